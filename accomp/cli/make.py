"""`accomp make`: the main job."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from accomp.job.options import AUDIO_FORMATS, KINDS, PAPERS, PARTS, READERS, Options
from accomp.time import MOST_CHORUSES

_PATH = click.Path(path_type=Path)

MOST_STEPS = 99  # a cue sheet counts its tracks with two digits


def _ladder(ctx: click.Context, param: click.Parameter, value: str | None) -> tuple[int, ...]:
    """Steps of a speed ladder from "60:100:5"."""
    if value is None:
        return ()
    parts = value.split(":")
    if len(parts) != 3 or not all(part.isascii() and part.isdigit() for part in parts):
        raise click.BadParameter(f"{value!r}: expected FROM:TO:STEP in per cent, as 60:100:5.")
    start, end, step = map(int, parts)
    if not (10 <= start <= end <= 200 and step >= 1):
        raise click.BadParameter(
            f"{value!r}: a ladder rises from at least 10 to at most 200 per cent in steps of 1 "
            f"or more, as 60:100:5."
        )
    steps = tuple(range(start, end + 1, step))
    if len(steps) > MOST_STEPS:
        raise click.BadParameter(f"{value!r}: {len(steps)} steps; at most {MOST_STEPS} are made.")
    return steps


@click.command(short_help="Make a play-along of a tune.")
@click.argument("tunes", nargs=-1, required=True, metavar="TUNE...", type=_PATH)
@click.option(
    "--out", type=_PATH, metavar="DIR", help="Folder to make; default: named by the tune."
)
@click.option("--key", "keys", multiple=True, help="Key to play in, as F or Dm; repeatable; `all`.")
@click.option("--tempo", "tempos", multiple=True, type=float, help="Beats a minute; repeatable.")
@click.option(
    "--position",
    "positions",
    multiple=True,
    help="Area of the neck: root-top, third-top ... (see `accomp positions`), `all`, or a fret "
    "for the index finger; repeatable.",
)
@click.option("--style", help="Style of the right hand and the band; see `accomp styles`.")
@click.option("--instrument", help="Instrument; see `accomp instruments`.")
@click.option("--hand", default="medium", show_default=True, help="small, medium or large.")
@click.option("--reach", "reach_mm", type=float, metavar="MM", help="Greatest reach in mm.")
@click.option("--repertoire", type=_PATH, metavar="FILE", help="The shapes the player knows.")
@click.option("--costs", type=_PATH, metavar="FILE", help="Weights of the cost model.")
@click.option(
    "--plan",
    type=click.Choice(["fixed", "free"]),
    default="fixed",
    show_default=True,
    help="fixed: one shape a chord; free: it may differ at each change.",
)
@click.option(
    "--vocabulary",
    type=click.Choice(["first", "inversions", "all"]),
    help="Shapes to choose from: first: what the repertoire makes; inversions: these and the "
    "inversions of four-note chords (the default without --repertoire); all: every playable one.",
)
@click.option(
    "--shapes",
    type=click.Choice(["known", "all"]),
    help="The older name of --vocabulary; known is its first.",
)
@click.option(
    "--open/--closed", "opened", default=None, help="Allow open strings everywhere, or nowhere."
)
@click.option("--mute", is_flag=True, help="Allow shapes that leave strings out.")
@click.option("--choruses", type=click.IntRange(1, MOST_CHORUSES), help="Times through the form.")
@click.option(
    "--count-in",
    type=click.IntRange(0, 8),
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
    help="What MusicXML files hold; repeatable.",
)
@click.option(
    "--reader",
    "readers",
    multiple=True,
    type=click.Choice(READERS),
    default=("concert",),
    show_default=True,
    help="For whom it is written; repeatable.",
)
@click.option("--plain-clef", is_flag=True, help="A plain treble clef, without the small 8.")
@click.option("--mxl", is_flag=True, help="Compressed MusicXML (.mxl).")
@click.option(
    "--paper",
    type=click.Choice(PAPERS),
    default="a4",
    show_default=True,
    help="Paper of PDF pages.",
)
@click.option("--soundfont", type=_PATH, metavar="FILE", help="SoundFont (.sf2) to sound with.")
@click.option(
    "--audio-format",
    type=click.Choice(AUDIO_FORMATS),
    default="flac",
    show_default=True,
    help="Format of audio files.",
)
@click.option("--seed", type=int, default=0, show_default=True, help="Seed of what varies.")
@click.option("--melody", is_flag=True, help="Add the tune's melody as a guide track.")
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
    "--jobs",
    type=click.IntRange(1, 64),
    default=1,
    show_default=True,
    help="Processes that work at once.",
)
@click.option("--again", is_flag=True, help="Make everything anew, whatever is there already.")
@click.option("--json", "as_json", is_flag=True, help="Print the manifest and nothing else.")
def make(
    tunes: tuple[Path, ...],
    out: Path | None,
    opened: bool | None,
    only: tuple[str, ...],
    as_json: bool,
    **rest: object,
) -> int:
    """Make a play-along of each TUNE (a tune file, .toml): MIDI, MusicXML, PDF, audio in a folder.

    Long or wide stretches: stop if it hurts; a teacher's or physiotherapist's word goes first.
    Start listening at a low volume.
    """
    from accomp.cli.making import make_all

    closed = None if opened is None else not opened
    options = Options(closed=closed, only=only or KINDS, **rest)  # type: ignore[arg-type]  # click typed them
    return make_all(tunes, out, options, as_json=as_json, tell=sys.stderr.isatty())
