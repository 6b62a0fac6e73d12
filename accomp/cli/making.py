"""What `accomp make` does with several tunes, and how it tells what it did.

Conventions: one tune is all or nothing; of several, good ones are made and bad ones are reported
together at the end.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import click

from accomp.cli.listing import echo_json, echo_notes, progress
from accomp.cli.options import error_text
from accomp.errors import AccompError
from accomp.job.manifest import NAME, Manifest
from accomp.job.options import Options
from accomp.tune import Tune, read_tune, unique_slugs


def make_all(
    paths: Sequence[Path], out: Path | None, options: Options, *, as_json: bool, tell: bool
) -> int:
    """Make every tune; returns the exit code."""
    from accomp.job.make import make_tune  # late: a tune that is wrong is told at once

    tunes: list[Tune] = []
    errors: list[AccompError] = []
    for path in dict.fromkeys(paths):
        try:
            tunes.append(read_tune(path))
        except AccompError as error:
            errors.append(error)
    made: list[Manifest] = []
    for tune, folder in zip(tunes, _folders(tunes, out, len(paths) > 1), strict=True):
        try:
            with progress("Making", shown=tell and not as_json) as report:
                manifest = make_tune(tune, options, folder, report)
        except AccompError as error:
            errors.append(error)
            continue
        except KeyboardInterrupt:
            if options.pack:
                click.echo(
                    "\nWhat is finished of the pack is kept: run the command again.", err=True
                )
            raise
        made.append(manifest)
        if not as_json:
            _show(manifest, folder)
    if as_json and made:
        echo_json(made[0] if len(paths) == 1 else made)
    if errors:
        from accomp.cli import printable

        for each in errors:
            click.echo(printable(error_text(each)), err=True)
        if len(paths) > 1:
            click.echo(f"{len(made)} of {len(paths)} tunes made.", err=True)
    return 1 if errors else 0


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
    from accomp.cli import printable

    count = "1 file" if len(manifest.files) == 1 else f"{len(manifest.files)} files"
    click.echo(printable(f"{manifest.tune}: {count} in {folder}"))
    for path in (*(file.path for file in manifest.files), NAME):
        click.echo(printable(f"  {folder / path}"))
    echo_notes(_once_a_kind(manifest.notices))
    audio = [file.path for file in manifest.files if file.kind == "audio"]
    if audio:
        click.echo(
            f"Next: play {folder / audio[0]} (start quietly), or see the neck with "
            f"`accomp positions`, other keys with --key, other speeds with --tempo."
        )
