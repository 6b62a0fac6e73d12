"""What `accomp make` does with several tunes, and how it tells what it did.

Conventions: one tune is all or nothing; of several, good ones are made and bad ones are reported
together at the end.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from accomp.cli.problems import error_rows, error_text, wrong_usage
from accomp.cli.progress import progress
from accomp.cli.saying import (
    Talk,
    UnsaidError,
    say_done,
    say_json,
    talk,
    tell,
    tell_notes,
)
from accomp.cli.writing import only_a_folder
from accomp.errors import AccompError, InputError, problems_of
from accomp.files.text import counted
from accomp.job.manifest import NAME, Manifest
from accomp.job.options import Options
from accomp.tune import Tune, read_tune, unique_slugs


def make_all(
    paths: Sequence[Path], out: Path | None, options: Options, *, as_json: bool, shown: bool
) -> int:
    """Make every tune; returns the exit code."""
    from accomp.job.make import make_tune  # late: a tune that is wrong is told at once

    only_a_folder(out)
    tunes: list[Tune] = []
    errors: dict[Path, AccompError] = {}
    unsaid: UnsaidError | None = None
    for path in dict.fromkeys(paths):
        try:
            tunes.append(read_tune(path))
        except Exception as error:  # whatever it is, it is this tune's and nobody else's
            errors[path] = _of_tune(error, path)
    made: dict[Path, Manifest] = {}
    for tune, folder in zip(tunes, _folders(tunes, out, len(paths) > 1), strict=True):
        try:
            with progress("Making", shown=shown and not as_json) as report:
                manifest = make_tune(tune, options, folder, report)
        except KeyboardInterrupt:
            if options.pack:
                tell("\nWhat is finished of the pack is kept: run the command again.")
            raise
        except Exception as error:
            errors[Path(tune.file)] = _of_tune(error, Path(tune.file))
            continue
        made[Path(tune.file)] = manifest
        try:
            if not as_json:
                _show(manifest, folder)
        except UnsaidError as error:  # the others are made all the same
            unsaid = error
    if errors and len(paths) == 1:
        raise next(iter(errors.values()))
    if as_json:
        say_json(_document(paths, made, errors))
    for each in errors.values():
        tell(error_text(each))
    if errors:
        tell(f"{len(made)} of {len(paths)} tunes made.")
    if unsaid is not None:
        raise unsaid
    if errors:
        return 2 if all(map(wrong_usage, errors.values())) else 1
    return 0


def _document(
    paths: Sequence[Path], made: Mapping[Path, Manifest], errors: Mapping[Path, AccompError]
) -> object:
    """The manifest of a single tune; of several a list in the order given, with the problems of
    those that could not be made."""
    rows = [
        made[path]
        if path in made
        else {"file": str(path), "problems": error_rows(errors[path], str(path))}
        for path in dict.fromkeys(paths)
    ]
    return rows[0] if len(paths) == 1 else rows


def _of_tune(error: Exception, path: Path) -> AccompError:
    """What kept a tune from being made, with its file where nothing says which it was."""
    if isinstance(error, AccompError):
        return error
    return InputError(problems_of(error, path))


def _folders(tunes: list[Tune], out: Path | None, many: bool) -> list[Path]:
    """One folder a tune: `out` itself for a single one, a folder inside it for each of several."""
    slugs = unique_slugs([tune.title for tune in tunes])
    if many:
        return [(out or Path()) / name for name in slugs]
    return [out or Path(name) for name in slugs]


def _once_a_kind(notices: Sequence[str]) -> list[str]:
    """Of notices that differ in their numbers only, the first, and how many more there are."""
    kinds: dict[str, list[str]] = {}
    for notice in notices:
        kinds.setdefault(re.sub(r"[-−]?\d+(\.\d+)?", "0", notice), []).append(notice)
    return [
        alike[0] if len(alike) == 1 else f"{alike[0]} ({len(alike) - 1} more like this: see {NAME})"
        for alike in kinds.values()
    ]


def _show(manifest: Manifest, folder: Path) -> None:
    """Where the files are, and what to do next."""
    say_done(f"{manifest.tune}: {counted(len(manifest.files), 'file')} in {folder}")
    for path in (*(file.path for file in manifest.files), NAME):
        say_done(f"  {folder / path}")
    notices = manifest.notices
    tell_notes(notices if talk() is Talk.FULL else _once_a_kind(notices))
    if manifest.earlier:
        count = counted(len(manifest.earlier), "file")
        tell_notes([f"{count} of earlier runs in {folder}: see `earlier` in {NAME}."])
    audio = [file.path for file in manifest.files if file.kind == "audio"]
    if audio:
        say_done(
            f"Next: play {folder / audio[0]} (start quietly), or see the neck with "
            f"`accomp positions`, other keys with --key, other speeds with --tempo."
        )
