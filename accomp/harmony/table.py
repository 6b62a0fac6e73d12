"""The chord table as rows, and the lookups derived from it.

Conventions: degrees run from low to high; essential tones from the most telling down; `drop` from
the one missed least. Spellings are in ASCII plus ° ø Δ, with `<word>` already filled in.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal, cast

from accomp.files.data import package_data
from accomp.harmony.degree import Degree, degrees

Does = Literal["set", "add", "instead", "leave"]


@dataclass(frozen=True, slots=True)
class KindRow:
    """A named chord: its MusicXML `kind`, its tones, and what may stand after the root for it.

    `vague` are the spellings that leave open which alterations they mean.
    """

    kind: str
    degrees: tuple[Degree, ...]
    silent: tuple[Degree, ...]
    essential: tuple[Degree, ...]
    drop: tuple[Degree, ...]
    spellings: tuple[str, ...]
    vague: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Change:
    """An alteration: what it `does` with which `degree`; `bracketed` ones need brackets."""

    does: Does
    degree: Degree
    bracketed: bool
    spellings: tuple[str, ...]


@dataclass(frozen=True)
class ChordTable:
    """All rows and changes, with lookups by spelling, by kind and by tones."""

    rows: tuple[KindRow, ...]
    changes: tuple[Change, ...]
    by_spelling: Mapping[str, KindRow]
    by_kind: Mapping[str, KindRow]
    by_degrees: Mapping[frozenset[Degree], KindRow]
    change_by_spelling: Mapping[str, Change]


def spelled_out(spelling: str, words: Mapping[str, list[str]]) -> list[str]:
    """Every string that a spelling with `<word>` in it stands for."""
    parts = re.split(r"<(\w+)>", spelling)
    choices = [words[text] if index % 2 else [text] for index, text in enumerate(parts)]
    return ["".join(choice) for choice in itertools.product(*choices)]


@lru_cache(maxsize=1)
def chord_table() -> ChordTable:
    """The table that comes with the package."""
    return build_table(package_data("chords.toml"))


def build_table(data: Mapping[str, Any]) -> ChordTable:
    """The table from its TOML data; the first row of a kind is that kind itself."""
    words = cast("dict[str, list[str]]", data["words"])

    def spellings(entry: Mapping[str, Any]) -> tuple[str, ...]:
        # A word may make the same string twice (m + Δ is spelled out and comes from <major>).
        every = (text for spelling in entry["spellings"] for text in spelled_out(spelling, words))
        return tuple(dict.fromkeys(every))

    rows = tuple(
        KindRow(
            kind=entry["kind"],
            degrees=degrees(entry["degrees"]),
            silent=degrees(entry.get("silent", "")),
            essential=degrees(entry["essential"]),
            drop=degrees(entry["drop"]),
            spellings=spellings(entry),
            vague=tuple(entry.get("vague", ())),
        )
        for entry in data["chord"]
    )
    changes = tuple(
        Change(
            does=entry["does"],
            degree=Degree.parse(entry["degree"]),
            bracketed=entry.get("bracketed", False),
            spellings=spellings(entry),
        )
        for entry in data["alteration"]
    )
    return ChordTable(
        rows=rows,
        changes=changes,
        by_spelling={text: row for row in rows for text in row.spellings},
        by_kind={row.kind: row for row in reversed(rows)},
        by_degrees={frozenset(row.degrees): row for row in reversed(rows)},
        change_by_spelling={text: change for change in changes for text in change.spellings},
    )
