"""Options that several commands share, and the name of the option for each setting.

Conventions: the parameter of an option has the name of the field of `Options` that it sets.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar

import click

from accomp.cli import words
from accomp.job.options import MOST_JOBS, PLANS, SHAPES
from accomp.neck.player import VOCABULARIES
from accomp.score.performance import SIDES
from accomp.time.limits import MOST_CHORUSES
from accomp.write.formats import PAPERS

Command = TypeVar("Command", bound=Callable[..., Any])
Option = Callable[[Any], Any]
# Click does not check that a file can be read: its reader reports that, with other problems.
PATH = click.Path(path_type=Path, readable=False)
STDOUT = Path("-")  # as an output file; as an input file it is standard input (`files/plain.py`)


class Whole(click.IntRange):
    """A whole number in a range; click's messages use `name`."""

    name = "whole number"


class AnyWhole(click.types.IntParamType):
    """A whole number without limits."""

    name = "whole number"


class Number(click.types.FloatParamType):
    """A number; click's messages use `name`."""

    name = "number"


HERE: tuple[Option, ...] = (
    click.option(
        "--out",
        "-o",
        type=PATH,
        default=Path(),
        metavar="DIR",
        help="Folder, or the file's own name; default: here. - writes the file to stdout.",
    ),
)
KEYS: tuple[Option, ...] = (
    click.option(
        "--key",
        "keys",
        multiple=True,
        shell_complete=words.KEYS,
        help="Key to play in, as F or Dm; repeatable; `all`.",
    ),
)
POSITIONS: tuple[Option, ...] = (
    click.option(
        "--position",
        "positions",
        multiple=True,
        shell_complete=words.POSITIONS,
        help="Area of the neck: root-top, third-top ... (see `accomp positions`), `all`, or a fret "
        "for the index finger; repeatable.",
    ),
)
STYLE: tuple[Option, ...] = (
    click.option(
        "--style",
        shell_complete=words.STYLES,
        help="Style of the right hand and the band; see `accomp styles`; or a style file (.toml).",
    ),
)
# Further options of a performance.
PLAYED: tuple[Option, ...] = (
    click.option(
        "--choruses",
        type=Whole(1, MOST_CHORUSES),
        metavar="N",
        help="Times through the form.",
    ),
    click.option("--soundfont", type=PATH, metavar="FILE", help="SoundFont (.sf2) to sound with."),
    click.option(
        "--seed",
        type=AnyWhole(),
        metavar="N",
        default=0,
        show_default=True,
        help="Seed of what varies.",
    ),
    click.option("--melody", is_flag=True, help="Add the tune's melody as a guide track."),
    click.option(
        "--side",
        type=click.Choice(SIDES),
        help="Where you sit in the mix: left, as a rule, or right.",
    ),
)
PAPER: tuple[Option, ...] = (
    click.option("--paper", type=click.Choice(PAPERS), help="Paper of PDF pages; a4 as a rule."),
)
PLAYER: tuple[Option, ...] = (
    click.option(
        "--instrument",
        shell_complete=words.INSTRUMENTS,
        help="Instrument; see `accomp instruments`; or an instrument file (.toml).",
    ),
    click.option(
        "--hand",
        shell_complete=words.HANDS,
        help="small, medium (as a rule; see `accomp config`) or large; or a hand file (.toml).",
    ),
    click.option("--reach", "reach_mm", type=Number(), metavar="MM", help="Greatest reach in mm."),
    click.option("--repertoire", type=PATH, metavar="FILE", help="The shapes the player knows."),
    click.option("--costs", type=PATH, metavar="FILE", help="Weights of the cost model."),
    click.option("--mute", is_flag=True, help="Allow shapes that leave one string more out."),
    click.option(
        "--closed/--open", default=None, help="Allow open strings nowhere, or everywhere."
    ),
)
PLAN: tuple[Option, ...] = (
    click.option(
        "--plan",
        type=click.Choice(PLANS),
        default="fixed",
        show_default=True,
        help="fixed: one shape a chord; free: it may differ at each change.",
    ),
    click.option(
        "--vocabulary",
        type=click.Choice(VOCABULARIES),
        help="Shapes to choose from: first: what the repertoire makes; inversions: these and the "
        "inversions of four-note chords (default, without --repertoire); all: every playable one.",
    ),
    click.option(
        "--shapes",
        type=click.Choice(SHAPES),
        help="The older name of --vocabulary; known is its first.",
    ),
)
RUN: tuple[Option, ...] = (
    click.option(
        "--jobs",
        type=Whole(1, MOST_JOBS),
        metavar="N",
        default=1,
        show_default=True,
        help="Processes that work at once.",
    ),
    click.option("--again", is_flag=True, help="Make everything anew, whatever is there already."),
)
REPLACE: tuple[Option, ...] = (
    click.option(
        "--replace", is_flag=True, help="Replace files that are there already and may be yours."
    ),
)
MANIFEST: tuple[Option, ...] = (
    click.option("--json", "as_json", is_flag=True, help="Print the manifest and nothing else."),
)


def options(*groups: Sequence[Option]) -> Callable[[Command], Command]:
    """One decorator for all options of some groups, in their order."""

    def add(command: Command) -> Command:
        for option in reversed([option for group in groups for option in group]):
            command = option(command)
        return command

    return add


# Settings whose option has another name, or that are no option.
_NAMES = {
    "closed": "--closed/--open",
    "folder": "--out",
    "keys": "--key",
    "parts": "--part",
    "players": "--player",
    "positions": "--position",
    "reach_mm": "--reach",
    "readers": "--reader",
    "tempos": "--tempo",
    "usual_instrument": "`instrument` in config.toml",
}


def option_name(setting: str) -> str:
    """The option for a setting: "--again"."""
    return _NAMES.get(setting, "--" + setting.replace("_", "-"))
