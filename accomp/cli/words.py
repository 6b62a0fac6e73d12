"""Names for shell completion: styles, instruments, keys, positions, chords.

Conventions: each function has click's arguments and returns the names that begin with the typed
text. Since the user is typing, an error completes nothing and prints nothing.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click
from click.shell_completion import split_arg_string

from accomp.errors import AccompError

if TYPE_CHECKING:
    from accomp.files.data import DataKind

Complete = Callable[[click.Context, click.Parameter, str], list[str]]
_MOST_FILES = 50  # tunes of a folder that are read for their chords


def _beginning(names: Callable[[click.Context], Iterable[str]]) -> Complete:
    def complete(ctx: click.Context, param: click.Parameter, typed: str) -> list[str]:
        try:
            return [name for name in names(ctx) if name.startswith(typed)]
        except (AccompError, OSError):
            return []

    return complete


def _data(kind: DataKind) -> Complete:
    def names(ctx: click.Context) -> Iterable[str]:
        from accomp.files import data

        return data.names(kind)

    return _beginning(names)


def _keys(ctx: click.Context) -> Iterable[str]:
    from accomp.harmony import ALL_MAJOR, ALL_MINOR

    return ["all", *dict.fromkeys((*ALL_MAJOR, *ALL_MINOR))]


def _positions(ctx: click.Context) -> Iterable[str]:
    """The positions of the tune on the command line; without one, all names of positions."""
    from accomp.job.options import Options
    from accomp.job.positions import tune_neck
    from accomp.job.request import resolve
    from accomp.tune import read_tune

    given = ctx.params.get("tunes") or ctx.params.get("tune") or _file_typed()
    if not given:
        tops = [f"{degree}-top" for degree in ("root", "third", "fifth", "sixth", "seventh")]
        return ["all", *tops, *(f"{top}-high" for top in tops)]
    tune = read_tune(given if isinstance(given, Path) else given[0])
    request = resolve(tune, Options(instrument=ctx.params.get("instrument")))
    return ["all", *(plan.name for plan in tune_neck(tune, request).every)]


def _file_typed() -> Path | None:
    """The first tune file on the line; click parses none while an option lacks its value."""
    typed = split_arg_string(os.environ.get("COMP_WORDS", ""))
    return next((Path(word) for word in typed if word.endswith(".toml")), None)


def _chords(ctx: click.Context) -> Iterable[str]:
    """The chords of the tunes in this folder; without tunes, common ones."""
    from accomp.score.planning import tune_chords
    from accomp.tune import read_tune

    found: dict[str, None] = {}
    for path in sorted(Path().glob("*.toml"))[:_MOST_FILES]:
        try:
            chords = tune_chords(read_tune(path)).chords
        except AccompError:
            continue
        found.update(dict.fromkeys(map(str, chords)))
    roots = ("C", "G", "D", "A", "E", "F", "Bb", "Eb")
    return sorted(found) or [root + kind for root in roots for kind in ("", "7", "m", "m7", "dim7")]


STYLES, INSTRUMENTS, HANDS = _data("styles"), _data("instruments"), _data("hands")
KEYS, POSITIONS, CHORDS = _beginning(_keys), _beginning(_positions), _beginning(_chords)
