"""The table of moves: how one kind of chord is made from another.

Conventions: a *way* moves every string, or any one string, that has a degree by so many frets
(up is positive). See data/derivations.toml for the form and the source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from accomp.errors import InputError, Problem
from accomp.files import data
from accomp.files.toml import Document, read_toml, unknown_keys

_WAY = re.compile(
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
    document = read_toml(path)
    problems = unknown_keys(document, (), ("chord",))
    entries = document.data.get("chord")
    rows: list[Row] = []
    if not isinstance(entries, list) or not all(isinstance(one, dict) for one in entries):
        problems.append(document.problem("expected one [[chord]] for each kind.", "chord"))
        entries = []
    for index, entry in enumerate(entries):
        place = ("chord", index)
        problems += unknown_keys(document, place, ("name", "tones", "from", "moves"))
        name, tones, source = entry.get("name"), entry.get("tones"), entry.get("from", "")
        if not all(isinstance(text, str) for text in (name, tones, source)):
            problems.append(document.problem("a chord needs name and tones, both texts.", *place))
            continue
        if source and source not in {row.name for row in rows}:
            problems.append(
                document.problem(
                    f"{source!r} is made nowhere above.",
                    *place,
                    "from",
                    found=source,
                    expected="the name of a row that stands before this one",
                )
            )
            continue
        ways = _ways(document, index, entry.get("moves", []), problems)
        rows.append(Row(name, frozenset(tones.split()), source, ways))
    if problems:
        raise InputError(sorted(problems, key=lambda one: (one.line, one.column)))
    return MoveTable(tuple(rows))


def _ways(
    document: Document, index: int, texts: object, problems: list[Problem]
) -> tuple[Way, ...]:
    ways = []
    for at, text in enumerate(texts if isinstance(texts, list) else [texts]):
        match = _WAY.fullmatch(text) if isinstance(text, str) else None
        if match is None:
            expected = '"every 3 down 1", "one 1 down 2" or "one 5 down 5 without 1"'
            problems.append(
                document.problem(
                    f"{text!r} is no move: expected {expected}.",
                    "chord",
                    index,
                    "moves",
                    at,
                    found=str(text),
                    expected=expected,
                )
            )
            continue
        every, degree, way, frets, without = match.groups()
        ways.append(
            Way(every == "every", degree, int(frets) * (1 if way == "up" else -1), without or "")
        )
    return tuple(ways)
