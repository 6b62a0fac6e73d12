"""Chord symbols taken apart and put together: root, what stands after it, bass.

Conventions: text in ASCII plus ° ø Δ (`plain_signs` makes it so, character for character, so that
columns stay true). The longest name is tried first: "maj7" before "m", "+5" before "+".
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from accomp.harmony.table import Change, ChordTable, KindRow, chord_table

_SYMBOL = re.compile(r"([A-G][b#]?)(.*?)(?:/([A-G][b#]?))?", re.DOTALL)
# Real signs and their look-alikes, one character each.
_SIGNS = str.maketrans("♭♯º˚∘Ø∅⌀△∆−–", "b#°°°øøøΔΔ--")


def plain_signs(text: str) -> str:
    """The same text with b # ° ø Δ - for every sign that looks like them."""
    return text.translate(_SIGNS)


def split_symbol(text: str) -> tuple[str, str, str] | None:
    """Root, suffix and bass ("" without one) of a symbol; None when it has no root."""
    match = _SYMBOL.fullmatch(plain_signs(text))
    return (match[1], match[2], match[3] or "") if match else None


def join_symbol(root: str, suffix: str, bass: str = "") -> str:
    """The symbol that `split_symbol` and `read_suffix` take apart into this very chord.

    A flat or sharp right after a bare letter would be read as the root's own: "B" and "#5" make
    "B(#5)", because "B#5" is a power chord on B sharp.
    """
    if len(root) == 1 and plain_signs(suffix[:1]) in ("b", "#"):
        suffix = _in_brackets(suffix)
    return f"{root}{suffix}/{bass}" if bass else f"{root}{suffix}"


def _in_brackets(suffix: str) -> str:
    """A suffix with its first alterations in brackets: as many as keep their meaning there."""
    meant = read_suffix(plain_signs(suffix))
    if isinstance(meant, UnreadSuffix):
        return f"({suffix})"
    bracket = suffix.find("(")
    run = len(suffix) if bracket < 0 else bracket
    for stop in (run, min([run, *meant.starts[1:2]])):
        text = f"({suffix[:stop]}){suffix[stop:]}"
        found = read_suffix(plain_signs(text))
        if isinstance(found, Suffix) and (found.row, found.changes) == (meant.row, meant.changes):
            break
    return text


@dataclass(frozen=True, slots=True)
class Suffix:
    """A suffix understood: a `row` and `changes` with the index at which each one `starts`; `vague`
    says that the row's own alterations may be named again."""

    row: KindRow
    changes: tuple[Change, ...]
    starts: tuple[int, ...]
    vague: bool = False


@dataclass(frozen=True, slots=True)
class UnreadSuffix:
    """A suffix not understood beyond `at`; `inside` brackets or not."""

    at: int
    inside: bool


def read_suffix(text: str) -> Suffix | UnreadSuffix:
    """Take `text` apart, or say how far it can be understood."""
    reader = _Reader(text, chord_table())
    for length in range(len(text), -1, -1):
        row = reader.table.by_spelling.get(text[:length])
        if row is None:
            continue
        found = reader.changes(length, inside=False, fresh=False)
        if found is not None:
            changes, starts = tuple(one for _, one in found), tuple(at for at, _ in found)
            return Suffix(row, changes, starts, text[:length] in row.vague)
    return UnreadSuffix(reader.furthest, reader.furthest_inside)


class _Reader:
    """Reads alterations with backtracking; places that lead nowhere are tried only once."""

    def __init__(self, text: str, table: ChordTable) -> None:
        self.text = text
        self.table = table
        self.longest = max(map(len, table.change_by_spelling))
        self.dead: set[tuple[int, bool, bool]] = set()
        self.furthest = 0
        self.furthest_inside = False

    def changes(self, at: int, inside: bool, fresh: bool) -> list[tuple[int, Change]] | None:
        """The alterations from `at` on, or None; `fresh` right after a bracket or comma."""
        if at > self.furthest:
            self.furthest, self.furthest_inside = at, inside
        if at == len(self.text):
            return None if inside else []
        if (at, inside, fresh) in self.dead:
            return None
        sign = self.text[at]
        rest: list[tuple[int, Change]] | None = None
        if sign == "(" and not inside:
            rest = self.changes(at + 1, inside=True, fresh=True)
        elif sign == ")" and inside and not fresh:
            rest = self.changes(at + 1, inside=False, fresh=False)
        elif sign in ",/ " and inside and not fresh:
            width = 2 if self.text[at + 1 : at + 2] == " " else 1
            rest = self.changes(at + width, inside=True, fresh=True)
        else:
            for length in range(min(self.longest, len(self.text) - at), 0, -1):
                change = self.table.change_by_spelling.get(self.text[at : at + length])
                if change is None or (change.bracketed and not inside):
                    continue
                rest = self.changes(at + length, inside, fresh=False)
                if rest is not None:
                    return [(at, change), *rest]
            rest = None
        if rest is None:
            self.dead.add((at, inside, fresh))
        return rest
