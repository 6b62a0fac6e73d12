"""`accomp make`: the main job."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import Any

import click

from accomp.cli.options import (
    KEYS,
    MANIFEST,
    PAPER,
    PATH,
    PLAN,
    PLAYED,
    PLAYER,
    POSITIONS,
    REPLACE,
    RUN,
    STYLE,
    Number,
    Whole,
    options,
)
from accomp.job.manifest import AskedKind
from accomp.job.options import (
    KINDS,
    LEAST_STEP,
    MOST_COUNT_IN,
    MOST_STEP,
    MOST_STEPS,
    USUAL,
)
from accomp.score.readers import PARTS, READERS
from accomp.write.formats import AUDIO_FORMATS, BOXES

_LADDER_STEP = re.compile("[0-9]{1,6}")  # a limit, since very long numbers are slow to read


def _ladder(ctx: click.Context, param: click.Parameter, value: str | None) -> tuple[int, ...]:
    """Steps of a speed ladder from "60:100:5"."""
    if value is None:
        return ()
    parts = value.split(":")
    if len(parts) != 3 or not all(_LADDER_STEP.fullmatch(step) for step in parts):
        raise click.BadParameter(f"{value!r}: expected FROM:TO:STEP in per cent, as 60:100:5.")
    start, end, step = map(int, parts)
    if not (LEAST_STEP <= start <= end <= MOST_STEP and step >= 1):
        raise click.BadParameter(
            f"{value!r}: a ladder rises from at least {LEAST_STEP} to at most {MOST_STEP} per cent "
            f"in steps of 1 or more, as 60:100:5."
        )
    steps = tuple(range(start, end + 1, step))
    if len(steps) > MOST_STEPS:
        raise click.BadParameter(f"{value!r}: {len(steps)} steps; at most {MOST_STEPS} are made.")
    return steps


@click.command(short_help="Make a play-along of a tune.")
@click.argument("tunes", nargs=-1, required=True, metavar="TUNE...", type=PATH)
@click.option(
    "--out", "-o", type=PATH, metavar="DIR", help="Folder to make; default: named by the tune."
)
@options(KEYS)
@click.option(
    "--tempo",
    "tempos",
    multiple=True,
    type=Number(),
    metavar="BPM",
    help="Beats a minute; repeatable.",
)
@options(POSITIONS, STYLE, PLAYER, PLAN, PLAYED)
@click.option(
    "--count-in",
    type=Whole(0, MOST_COUNT_IN),
    metavar="N",
    default=1,
    show_default=True,
    help="Bars of clicks before the tune.",
)
@click.option("--only", multiple=True, type=click.Choice(KINDS), help="Kind of file; repeatable.")
@click.option(
    "--part",
    "parts",
    multiple=True,
    type=click.Choice(PARTS),
    default=("score",),
    show_default=True,
    help="What is written, in MusicXML files and on PDF pages; repeatable.",
)
@click.option(
    "--reader",
    "readers",
    multiple=True,
    type=click.Choice(READERS),
    default=("concert",),
    show_default=True,
    help="For whom MusicXML files are written; repeatable.",
)
@click.option("--plain-clef", is_flag=True, help="A plain treble clef, without the small 8.")
@click.option("--mxl", is_flag=True, help="Compressed MusicXML (.mxl).")
@options(PAPER)
@click.option(
    "--boxes",
    type=click.Choice(BOXES),
    default="top",
    show_default=True,
    help="Chord boxes on PDF parts: once at the top, over the changes, or none.",
)
@click.option(
    "--audio-format",
    type=click.Choice(AUDIO_FORMATS),
    default="flac",
    show_default=True,
    help="Format of audio files.",
)
@click.option(
    "--pack",
    is_flag=True,
    help="A practice pack: with and without the player, ladder, drills, audition, tuning.",
)
@click.option(
    "--ladder",
    metavar="FROM:TO:STEP",
    callback=_ladder,
    help="A chorus at each speed, per cent of the tempo, as 60:100:5.",
)
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Work on other machines: the address of a scheduler of dask.distributed, as "
    "tcp://192.168.1.20:8786; --jobs does not count then. Name only one that you trust.",
)
@options(RUN, REPLACE, MANIFEST)
def make(
    tunes: tuple[Path, ...],
    out: Path | None,
    only: tuple[AskedKind, ...],
    cluster: str | None,
    as_json: bool,
    **rest: Any,
) -> int:
    """Make a play-along of each TUNE (a tune file, .toml, or a folder of them): MIDI, MusicXML,
    PDF, audio in a folder each.

    Long or wide stretches: stop if it hurts; a teacher's or physiotherapist's word goes first.
    Start listening at a low volume.
    """
    from accomp.cli.making import MakeSettings, make_all
    from accomp.cli.usual import wanted

    asked = wanted(only=only or (KINDS if rest["pack"] else USUAL), **rest)
    how = MakeSettings(out, cluster, as_json=as_json, shown=sys.stderr.isatty())
    return make_all(tunes, asked, how)
