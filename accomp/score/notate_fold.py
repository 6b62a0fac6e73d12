"""Repeats, endings and rests of several measures: what comes again is written once.

Conventions: all parts are folded alike, so that a score stays together. Sections fold when they
follow one another under one name within a chorus: equal ones become a repeat, two that differ only
at the end a repeat with first and second ending. Everything else is written out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from accomp.score.written import Barline, Measure

Column = tuple[Measure, ...]  # one measure of every part


@dataclass(frozen=True, slots=True)
class Block:
    """A section as played: its name, its chorus, and its columns [first, last)."""

    name: str
    chorus: int
    first: int
    last: int

    @property
    def length(self) -> int:
        """How many measures it has."""
        return self.last - self.first


def folded(columns: Sequence[Column], blocks: Sequence[Block]) -> list[Column]:
    """The columns to write, numbered anew; a pickup before the first block stays as it is."""
    written = list(columns[: blocks[0].first]) if blocks else list(columns)
    place = 0
    while place < len(blocks):
        block = blocks[place]
        alike = _alike(columns, blocks, place)
        tail = 0 if alike > 1 else _ending(columns, blocks, place)
        body = list(columns[block.first : block.last])
        if alike > 1:
            body[0] = _each(body[0], repeat_start=True)
            body[-1] = _each(body[-1], repeat_end=alike)
            if alike > 2:
                body[0] = (replace(body[0][0], words=_times(body[0][0].words, alike)), *body[0][1:])
            place += alike
        elif tail:
            other = blocks[place + 1]
            body[0] = _each(body[0], repeat_start=True)
            body[-tail:] = _bracketed(body[-tail:], 1, closed=True)
            body[-1] = _each(body[-1], repeat_end=2)
            body += _bracketed(list(columns[other.last - tail : other.last]), 2, closed=False)
            place += 2
        else:
            place += 1
        if alike > 1 or tail:
            last = columns[blocks[place - 1].last - 1]
            body[-1] = _each(body[-1], barline=last[0].barline)
        written += body
    return _numbered(written)


def _times(words: str, times: int) -> str:
    return f"{words}, {times} times" if words else f"{times} times"


def _each(column: Column, **changes: Any) -> Column:
    return tuple(replace(measure, **changes) for measure in column)


def _bracketed(columns: list[Column], time: int, *, closed: bool) -> list[Column]:
    stop = "stop" if closed else "discontinue"
    out = []
    for i, column in enumerate(columns):
        first, last = i == 0, i == len(columns) - 1
        edge = "start" if first else ""
        if last:
            edge = f"{edge}+{stop}" if edge else stop
        out.append(_each(column, ending=(time,), ending_edge=edge))
    return out


def _bare(column: Column, *, first: bool) -> Column:
    """What has to be equal for a column to be played from the same page."""
    bare = [replace(measure, number=1, rehearsal="", barline=Barline.REGULAR) for measure in column]
    if first:
        bare = [replace(m, words="", new_key=False, new_meter=False) for m in bare]
    return tuple(bare)


def _plain_start(column: Column) -> bool:
    """Whether a section can be reached by going back: nothing new is said at its start."""
    return not any(
        measure.words or measure.new_key or measure.new_meter or _carried(measure)
        for measure in column
    )


def _carried(measure: Measure) -> bool:
    return bool(measure.events) and measure.events[0].tied_from


def _same(columns: Sequence[Column], one: Block, other: Block, count: int) -> bool:
    return all(
        _bare(columns[one.first + i], first=i == 0) == _bare(columns[other.first + i], first=i == 0)
        for i in range(count)
    )


def _follows(columns: Sequence[Column], one: Block, other: Block) -> bool:
    return (
        one.chorus == other.chorus
        and one.name == other.name
        and one.length == other.length
        and _plain_start(columns[other.first])
        and not any(_carried(measure) for measure in columns[one.first])
    )


def _alike(columns: Sequence[Column], blocks: Sequence[Block], place: int) -> int:
    """How many blocks from `place` on are the same music."""
    count, block = 1, blocks[place]
    for other in blocks[place + 1 :]:
        if not _follows(columns, block, other) or not _same(columns, block, other, block.length):
            break
        count += 1
    return count


def _ending(columns: Sequence[Column], blocks: Sequence[Block], place: int) -> int:
    """Measures in the first ending when the next block differs only there, at most half; else 0."""
    if place + 1 >= len(blocks):
        return 0
    block, other = blocks[place], blocks[place + 1]
    if not _follows(columns, block, other):
        return 0
    tail = next(
        (
            tail
            for tail in range(1, block.length)
            if _same(columns, block, other, block.length - tail)
        ),
        block.length,
    )
    entered = columns[other.last - tail]
    return tail if tail * 2 <= block.length and not any(map(_carried, entered)) else 0


def _numbered(columns: Sequence[Column]) -> list[Column]:
    first = 0 if columns and columns[0][0].implicit else 1
    return [_each(column, number=first + i) for i, column in enumerate(columns)]


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
            out[start] = _each(out[start], rests=end - start)
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
        if right.rehearsal or right.words or right.chords or right.new_key or right.new_meter:
            return False
        if right.repeat_start or right.ending != left.ending:
            return False
    return True
