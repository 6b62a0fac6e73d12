"""A tune's positions in every key, and which of them are slides of one another.

Conventions: the tune is planned afresh in each key. Two plans without open strings are *slides* of
each other when every shape of one is that of the other, moved by the same number of frets; the
lowest is the origin of the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from accomp.harmony import Chord, Key
from accomp.neck.plan import Plan


@dataclass(frozen=True)
class KeyPosition:
    """A position in a key; `slid_from` names the key and position it is the slide of, if any."""

    plan: Plan
    slid_from: tuple[str, str] | None = None


@dataclass(frozen=True, repr=False)
class KeyPositions:
    """A key with its positions, from the nut upward; without any, `problem` says why."""

    key: Key
    chords: tuple[Chord, ...]
    positions: tuple[KeyPosition, ...]
    problem: str = ""

    def __repr__(self) -> str:
        names = ", ".join(one.plan.name for one in self.positions) or "none"
        return f"<KeyPositions {self.key}: {names}>"


def with_slides(rows: Sequence[KeyPositions]) -> list[KeyPositions]:
    """The rows with the origin of every slide marked."""
    lowest: dict[tuple[Any, ...], tuple[int, str, str]] = {}
    for row in rows:
        for one in row.positions:
            mark = _slide_mark(one.plan)
            if mark is not None:
                rank = (one.plan.frets[0], str(row.key), one.plan.name)
                lowest[mark] = min(lowest.get(mark, rank), rank)
    marked = []
    for row in rows:
        positions_here = []
        for one in row.positions:
            mark = _slide_mark(one.plan)
            origin = None if mark is None else lowest[mark][1:]
            if origin == (str(row.key), one.plan.name):
                origin = None
            positions_here.append(replace(one, slid_from=origin))
        marked.append(replace(row, positions=tuple(positions_here)))
    return marked


def _slide_mark(plan: Plan) -> tuple[Any, ...] | None:
    """A key that slides of each other share; None for a plan that cannot slide."""
    if plan.open:
        return None
    low = plan.frets[0]
    return tuple(
        tuple(None if fret is None else fret - low for fret in shape.frets) for shape in plan.path
    )
