"""Following a road map on paper, as a reader does: which leaf comes after which.

Conventions: after a jump back (D.C., D.S.) repeats are not taken again (common practice, no
source). Two combinations have one meaning in MusicXML 4.0, but programs misread them; they are no
clear way. music21 takes the brackets on a page with a jump for plain bars, and plays first and
second ending one after the other. partitura takes a repeat from the very first bar for the jump,
where both end together.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from accomp.score.notate_fold import Leaf
from accomp.score.written import Measure


def followed(leaves: Sequence[Leaf], most: int) -> list[int] | None:
    """The indices of the leaves in the order played; None where the way is not clear, or longer
    than `most` leaves."""
    marks = [leaf.column[0] for leaf in leaves]
    if any(mark.jump for mark in marks) and any(mark.ending for mark in marks):
        return None
    order: list[int] = []
    at, start, time, jumped = 0, 0, 1, False
    while at < len(marks):
        mark = marks[at]
        if mark.repeat_start and at != start:
            start, time = at, 1
        if mark.ending and time not in mark.ending:
            at += 1
            continue
        order.append(at)
        if len(order) > most:
            return None
        if not jumped and mark.repeat_end and time < mark.repeat_end:
            at, time = start, time + 1
            continue
        if mark.jump is not None and not jumped:
            jumped = True
            at = _sign_at(marks, "segno") if mark.jump.to_segno else 0
            if mark.repeat_end and at == start == 0:
                return None
            continue
        if jumped and mark.fine:
            return order
        at = _sign_at(marks, "coda") if jumped and mark.to_coda else at + 1
    return order


def _sign_at(marks: Sequence[Measure], sign: Literal["segno", "coda"]) -> int:
    """Where a sign stands."""
    return next(at for at, mark in enumerate(marks) if getattr(mark, sign))
