"""Following a road map on paper, as a reader does: which leaf comes after which.

Conventions: after a jump back (D.C., D.S.) repeats are not taken again (common practice, no
source), and the way leads through no ending, where readers differ.
"""

from __future__ import annotations

from collections.abc import Sequence

from accomp.score.notate_fold import Leaf
from accomp.score.written import Measure


def followed(leaves: Sequence[Leaf], most: int) -> list[int] | None:
    """Places of the leaves in the order they are played, None where it is no clear way or longer
    than `most`."""
    marks = [leaf.column[0] for leaf in leaves]
    order: list[int] = []
    at, start, time, jumped = 0, 0, 1, False
    while at < len(marks):
        mark = marks[at]
        if jumped and mark.ending:
            return None
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
            at = _place(marks, "segno") if mark.jump.to_segno else 0
            continue
        if jumped and mark.fine:
            return order
        at = _place(marks, "coda") if jumped and mark.to_coda else at + 1
    return order


def _place(marks: Sequence[Measure], sign: str) -> int:
    """Where a sign stands."""
    return next(at for at, mark in enumerate(marks) if getattr(mark, sign))
