"""Rests of several measures: silent measures in a row become one long rest.

Conventions: a column holds one measure of every part. A long rest hides nothing that a reader has
to see.
"""

from __future__ import annotations

from collections.abc import Sequence

from accomp.score.notate_fold import Column, each
from accomp.score.written import Barline


def with_long_rests(columns: Sequence[Column]) -> list[Column]:
    """The columns, with runs of silent ones marked as one rest of several measures."""
    out = list(columns)
    start = 0
    while start < len(out):
        end = start
        while (
            end < len(out)
            and _silent(out[end])
            and (end == start or _joins(out[end - 1], out[end]))
        ):
            end += 1
        if end - start > 1:
            out[start] = each(out[start], rests=end - start)
        start = max(end, start + 1)
    return out


def _silent(column: Column) -> bool:
    return all(
        measure.events and measure.events[0].whole_measure and not measure.implicit
        for measure in column
    )


def _joins(before: Column, column: Column) -> bool:
    """Whether nothing stands between two silent columns that a reader has to see."""
    for left, right in zip(before, column, strict=True):
        if left.barline != Barline.REGULAR or left.repeat_end or left.ending_edge:
            return False
        if left.to_coda or left.fine or left.jump or right.segno or right.coda:
            return False
        if right.rehearsal or right.words or right.chords or right.new_key or right.new_meter:
            return False
        if right.repeat_start or right.ending != left.ending:
            return False
    return True
