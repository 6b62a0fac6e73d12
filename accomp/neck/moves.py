"""Moves of single notes: how a shape is made from one that the player knows, and the rules for it.

Conventions: moves are applied in order; frets and strings as in a shape, index 0 the
highest-numbered string. The words can be read back: "from C 4 5 5 7: the root on the third string
goes two frets down", each move naming its string, how many frets and which way. In the table a
*rule* moves every string, or any one string, that has a degree by so many frets (up is positive);
see data/derivations.toml for the form and the source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from accomp.files import data, values
from accomp.files.table import Table
from accomp.files.text import frets_text
from accomp.neck.fingering import Frets
from accomp.neck.naming import degree_name, frets_word, string_name

_PATTERN = re.compile(
    r"(every|one) ([b#]{0,2}\d{1,2}) (up|down) (\d{1,2})(?: without ([b#]{0,2}\d{1,2}))?"
)


@dataclass(frozen=True, slots=True)
class Move:
    """One string's note goes `frets` up (negative: down), from one degree to another.

    The degrees are those of the chord before and after the move.
    """

    string: int
    frets: int
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Derivation:
    """A way from a known shape to another.

    The known shape is called `family`. It is moved `up` frets (negative: down) to `frets`, where it
    is the shape of `chord` ("C"). Then `moves` change it, and the moves `eased` bring a wide
    stretch within the hand's comfort. `alike` names another chord of the same tones, on whose root
    the shape is made ("Ddim7" for Bdim7); it is empty for the chord's own root.
    """

    family: str
    chord: str
    frets: Frets
    up: int = 0
    moves: tuple[Move, ...] = ()
    eased: tuple[Move, ...] = ()
    alike: str = ""

    @property
    def result(self) -> Frets:
        """The frets after all moves."""
        return apply(apply(self.frets, self.moves), self.eased)

    @property
    def wide(self) -> Frets:
        """The frets before the stretch was eased."""
        return apply(self.frets, self.moves)

    def then(self, moves: tuple[Move, ...]) -> Derivation:
        """This way with more moves after its own; all moves of one string become one."""
        return replace(self, moves=_net(self.moves + self.eased + moves), eased=())

    def words(self, chord: str) -> str:
        """How `chord` is made, in one sentence."""
        start = f"{self.chord} {frets_text(self.frets)}"
        subject = f"{chord} {frets_text(self.result)}"
        if self.alike:
            subject += f" (the same tones as {self.alike})"
        way = "up" if self.up > 0 else "down"
        moved = f", {frets_word(abs(self.up))} {way}" if self.up else ""
        if not self.moves and not self.eased:
            if subject == self.family:
                return f"{subject} is one of the first shapes."
            return f"{subject} is the shape {self.family}{moved or ' itself'}."
        strings = len(self.frets)
        source = "" if start == self.family else f" ({self.family}{moved})"
        text = f"{subject} is made from {start}{source}: "
        text += "; ".join(move_words(move, strings) for move in self.moves)
        if self.eased:
            text += "; " if self.moves else ""
            text += f"{frets_text(self.wide)} would be a wide stretch, so "
            text += "; ".join(move_words(move, strings) for move in self.eased)
        return text + "."


def _net(moves: tuple[Move, ...]) -> tuple[Move, ...]:
    """The moves of each string joined into one; a string that comes back does not move."""
    whole: dict[int, Move] = {}
    for move in moves:
        first = whole.get(move.string)
        if first is None:
            whole[move.string] = move
        else:
            whole[move.string] = replace(first, frets=first.frets + move.frets, after=move.after)
    return tuple(move for move in whole.values() if move.frets)


def apply(frets: Frets, moves: tuple[Move, ...]) -> Frets:
    """A shape after some moves."""
    after = list(frets)
    for move in moves:
        before = after[move.string]
        assert before is not None, "a string that is not sounded cannot move"
        after[move.string] = before + move.frets
    return tuple(after)


def move_words(move: Move, strings: int) -> str:
    """ "the root on the third string goes two frets down and becomes the seventh"."""
    way = "up" if move.frets > 0 else "down"
    words = (
        f"the {degree_name(move.before)} on the {string_name(strings - move.string)} goes "
        f"{frets_word(abs(move.frets))} {way}"
    )
    if degree_name(move.before) == degree_name(move.after):
        return words
    return f"{words} and becomes the {degree_name(move.after)}"


@dataclass(frozen=True, slots=True)
class MoveRule:
    """`every` string with `degree`, or any one of them, goes `frets` (down is negative).

    The rule holds where the degree `without` does not sound; "" for everywhere.
    """

    every: bool
    degree: str
    frets: int
    without: str = ""


@dataclass(frozen=True, slots=True)
class MoveRow:
    """A kind of chord: its `tones` (degrees), the row it is made from, and the rules to it."""

    name: str
    tones: frozenset[str]
    source: str
    rules: tuple[MoveRule, ...]


@dataclass(frozen=True)
class MoveTable:
    """All rows, in file order."""

    rows: tuple[MoveRow, ...]

    def making(self, tones: frozenset[str]) -> tuple[MoveRow, ...]:
        """The rows that make a chord of exactly these degrees."""
        return tuple(row for row in self.rows if row.tones == tones)

    def named(self, name: str) -> MoveRow:
        """The row of that name."""
        return next(row for row in self.rows if row.name == name)


@lru_cache(maxsize=1)
def default_moves() -> MoveTable:
    """The table that comes with the package."""
    return read_moves(data.package_file("derivations.toml"))


def read_moves(path: Path) -> MoveTable:
    """Read a table of moves. Raises `InputError` with every problem in it."""
    table = Table.of(path)
    rows: list[MoveRow] = []
    for entry in table.tables("chord", 'name = "major" and tones = "1 3 5"'):
        row = MoveRow(
            name=entry.text("name"),
            tones=frozenset(entry.text("tones").split()),
            source=entry.text("from", ""),
            rules=entry.several("moves", _RULE, ()),
        )
        if row.source and row.source not in {before.name for before in rows}:
            entry.wrong(
                f"{row.source!r} is made nowhere above.",
                "from",
                found=row.source,
                expected="the name of a row that stands before this one",
                hint="Move it down, or correct the name.",
            )
        rows.append(row)
    table.check()
    return MoveTable(tuple(rows))


def _rule(text: str) -> MoveRule:
    match = _PATTERN.fullmatch(text)
    if match is None:
        raise ValueError(text)
    which, degree, direction, count, without = match.groups()
    frets = int(count) if direction == "up" else -int(count)
    return MoveRule(which == "every", degree, frets, without or "")


_RULE = values.parsed(
    _rule,
    'a move as "every 3 down 1", "one 1 down 2" or "one 5 down 5 without 1"',
    "every 3 down 1",
)
