"""The work of `accomp make` on one or more tunes, and its output.

Conventions: a tune is made as a whole or not at all. Of several tunes the good ones are made, and
the errors of the others are reported together at the end.
"""

from __future__ import annotations

import contextlib
import os
import re
from collections import Counter
from collections.abc import Generator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from accomp.cli.problems import error_rows, error_text, wrong_usage
from accomp.cli.progress import progress
from accomp.cli.saying import (
    UnsaidError,
    Verbosity,
    say_done,
    say_json,
    tell,
    tell_notes,
    verbosity,
)
from accomp.cli.writing import only_a_folder
from accomp.errors import AccompError, InputError, problems_of
from accomp.files.plain import STDIN
from accomp.files.text import counted
from accomp.job.book_read import tunes_of
from accomp.job.build import JobProgress
from accomp.job.manifest import NAME, Manifest
from accomp.job.options import Options
from accomp.tune import Tune, read_tune, slug, unique_slugs


@dataclass(frozen=True)
class MakeSettings:
    """Settings of a run: output folder, address of a cluster, JSON output, progress bar shown."""

    out: Path | None = None
    cluster: str | None = None
    as_json: bool = False
    shown: bool = False


def make_all(given: Sequence[Path], options: Options, settings: MakeSettings) -> int:
    """Make every tune, also those of folders; returns the exit code."""
    only_a_folder(settings.out)
    tunes: list[Tune] = []
    errors: dict[Path, AccompError] = {}
    unsaid: UnsaidError | None = None
    paths, many = _tune_files(given, errors)
    for path in paths:
        try:
            tunes.append(read_tune(path))
        except Exception as error:  # any error of one tune must not stop the others
            errors[path] = _of_tune(error, path)
    made: dict[Path, Manifest | None] = {}  # manifests are kept for JSON only, to save memory
    tasks = list(zip(tunes, _folders(tunes, settings.out, many), strict=True))
    shown = settings.shown and not settings.as_json
    if tasks and settings.cluster is not None:
        results = _at_once(tasks, options, settings.cluster, shown)
    else:
        results = _one_by_one(tasks, options, shown)
    try:
        with contextlib.closing(results):
            for (tune, folder), result in results:
                if isinstance(result, Exception):
                    errors[Path(tune.file)] = _of_tune(result, Path(tune.file))
                    continue
                made[Path(tune.file)] = result if settings.as_json else None
                try:
                    if not settings.as_json:
                        _show(result, folder)
                except UnsaidError as error:  # still make the others
                    unsaid = error
    except KeyboardInterrupt:
        if options.pack:
            tell("\nWhat is finished of the pack is kept: run the command again.")
        raise
    if errors and not many:
        raise next(iter(errors.values()))
    rows = list(dict.fromkeys((*paths, *errors)))
    if settings.as_json:
        say_json(_document(rows, made, errors, many))
    for text in dict.fromkeys(map(error_text, errors.values())):  # a wrong option is told once
        tell(text)
    if errors:
        tell(f"{len(made)} of {len(rows)} tunes made.")
    if unsaid is not None:
        raise unsaid
    if errors:
        return 2 if all(map(wrong_usage, errors.values())) else 1
    return 0


def _tune_files(given: Sequence[Path], errors: dict[Path, AccompError]) -> tuple[list[Path], bool]:
    """The tune files given, and those of the folders given, each once; and whether they count as
    several. A folder counts as several even if it has one tune."""
    paths: list[Path] = []
    folders = [path for path in given if path != STDIN and os.path.isdir(path)]
    for path in given:
        try:
            paths += tunes_of(path) if path in folders else (path,)
        except AccompError as error:
            errors[path] = error
    return list(dict.fromkeys(paths)), bool(folders) or len(given) > 1


TuneAt = tuple[Tune, Path]
Results = Generator[tuple[TuneAt, Manifest | Exception], None, None]


def _one_by_one(tasks: Sequence[TuneAt], options: Options, shown: bool) -> Results:
    """Make tunes one after another; yields each task with its manifest or error."""
    from accomp.job.make import make_tune  # late: a wrong tune is reported without this wait

    for tune, folder in tasks:
        try:
            with progress("Making", shown=shown) as report:
                manifest = make_tune(tune, options, folder, report)
        except Exception as error:
            yield (tune, folder), error
        else:
            yield (tune, folder), manifest


def _at_once(tasks: Sequence[TuneAt], options: Options, address: str, shown: bool) -> Results:
    """Make tunes on a cluster; yields each task with its manifest or error, as finished."""
    from accomp.job.cluster import connected
    from accomp.job.library import make_library

    reports: list[JobProgress | None] = [None]

    def tell_of(what: str, share: float) -> None:
        if reports[0] is not None:
            reports[0](what, share)

    with (
        connected(address) as cluster,
        contextlib.closing(make_library(tasks, options, cluster, tell_of)) as results,
    ):
        while True:
            with progress("Making", shown=shown) as reports[0]:  # no bar while results are printed
                found = next(results, None)
            if found is None:
                return
            yield found


def _document(
    paths: Sequence[Path],
    made: Mapping[Path, Manifest | None],
    errors: Mapping[Path, AccompError],
    many: bool,
) -> object:
    """The JSON document: the manifest of a single tune, or a list in the order given, with problems
    in place of the manifests of tunes that failed."""
    rows = [
        made[path]
        if path in made
        else {"file": str(path), "problems": error_rows(errors[path], str(path))}
        for path in paths
    ]
    return rows if many else rows[0]


def _of_tune(error: Exception, path: Path) -> AccompError:
    """The error of a tune; an unexpected one becomes a problem of its file."""
    if isinstance(error, AccompError):
        return error
    return InputError(problems_of(error, path))


def _folders(tunes: list[Tune], out: Path | None, many: bool) -> list[Path]:
    """A folder for each tune: `out` itself for a single one, else a folder inside it.

    The title names the folder. Tunes of the same title are told apart by file name, not by number:
    if one of them is removed, no other tune may get its folder.
    """
    titles = [slug(tune.title) for tune in tunes]
    count = Counter(titles)
    slugs = unique_slugs(
        title if count[title] == 1 else f"{title} {Path(tune.file).stem}"
        for title, tune in zip(titles, tunes, strict=True)
    )
    if many:
        return [(out or Path()) / name for name in slugs]
    return [out or Path(name) for name in slugs]


def _once_a_kind(notices: Sequence[str]) -> list[str]:
    """Notices, but of those that differ only in numbers the first, with the number of others."""
    kinds: dict[str, list[str]] = {}
    for notice in notices:
        kinds.setdefault(re.sub(r"[-−]?\d+(\.\d+)?", "0", notice), []).append(notice)
    return [
        alike[0] if len(alike) == 1 else f"{alike[0]} ({len(alike) - 1} more like this: see {NAME})"
        for alike in kinds.values()
    ]


def _show(manifest: Manifest, folder: Path) -> None:
    """Print the files of a tune, its notices, and what to do next."""
    say_done(f"{manifest.tune}: {counted(len(manifest.files), 'file')} in {folder}")
    for path in (*(file.path for file in manifest.files), NAME):
        say_done(f"  {folder / path}")
    notices = manifest.notices
    tell_notes(notices if verbosity() is Verbosity.FULL else _once_a_kind(notices))
    if manifest.earlier:
        count = counted(len(manifest.earlier), "file")
        tell_notes([f"{count} of earlier runs in {folder}: see `earlier` in {NAME}."])
    audio = [file.path for file in manifest.files if file.kind == "audio"]
    if audio:
        say_done(
            f"Next: play {folder / audio[0]} (start quietly), or see the neck with "
            f"`accomp positions`, other keys with --key, other speeds with --tempo."
        )
