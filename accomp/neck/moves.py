"""The table of moves: how one kind of chord is made from another.

Conventions: a *way* moves every string, or any one string, that has a degree by so many frets
(up is positive). See data/derivations.toml for the form and the source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from accomp.files import data, values
from accomp.files.table import Table

_PATTERN = re.compile(
    r"(every|one) ([b#]{0,2}\d{1,2}) (up|down) (\d{1,2})(?: without ([b#]{0,2}\d{1,2}))?"
)


@dataclass(frozen=True, slots=True)
class Way:
    """One way: `every` string with `degree`, or any one, goes `frets` (down is negative).

    `without` is a degree that must not sound for the way to be open, "" for none.
    """

    every: bool
    degree: str
    frets: int
    without: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """A kind of chord: its `tones` (degrees), the row it is made `source` from, and the ways."""

    name: str
    tones: frozenset[str]
    source: str
    ways: tuple[Way, ...]


@dataclass(frozen=True)
class MoveTable:
    """All rows, by name."""

    rows: tuple[Row, ...]

    def making(self, tones: frozenset[str]) -> tuple[Row, ...]:
        """The rows that make a chord of exactly these degrees."""
        return tuple(row for row in self.rows if row.tones == tones)

    def named(self, name: str) -> Row:
        """The row of a name."""
        return next(row for row in self.rows if row.name == name)


@lru_cache(maxsize=1)
def default_moves() -> MoveTable:
    """The table that comes with the package."""
    return read_moves(data.package_file("derivations.toml"))


def read_moves(path: Path) -> MoveTable:
    """Read a table of moves. Raises `InputError` with every problem in it."""
    table = Table.of(path)
    rows: list[Row] = []
    for entry in table.tables("chord", 'name = "major" and tones = "1 3 5"'):
        row = Row(
            name=entry.text("name"),
            tones=frozenset(entry.text("tones").split()),
            source=entry.text("from", ""),
            ways=entry.several("moves", _WAY, ()),
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


def _way(text: str) -> Way:
    match = _PATTERN.fullmatch(text)
    if match is None:
        raise ValueError(text)
    every, degree, way, frets, without = match.groups()
    return Way(every == "every", degree, int(frets) * (1 if way == "up" else -1), without or "")


_WAY = values.parsed(
    _way, 'a move as "every 3 down 1", "one 1 down 2" or "one 5 down 5 without 1"', "every 3 down 1"
)
