"""Repeats and endings: music that is played twice in a row is written once.

Conventions: all parts are folded alike, so that a score stays together: a column holds one measure
of every part. A `Leaf` is a column on paper with the place at which it is first played. Sections
fold when they follow one another under one name: equal ones become a repeat; two that differ only
at the end become a repeat with first and second ending. Everything else is written out.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from accomp.score.written import Barline, Measure
from accomp.tune import Stage

Column = tuple[Measure, ...]  # one measure of every part


@dataclass(frozen=True, slots=True)
class Block:
    """Bars that are played in one go: their name, their chorus, their columns [first, last).

    `stage` is None for bars that are not the tune's own (a vamp, a tag).
    """

    name: str
    chorus: int
    first: int
    last: int
    stage: Stage | None = Stage.CHORUS

    @property
    def length(self) -> int:
        """How many measures it has."""
        return self.last - self.first


@dataclass(frozen=True, slots=True)
class Leaf:
    """A column on paper, and which of the played columns it is the first of."""

    column: Column
    source: int

    def with_all(self, **changes: Any) -> Leaf:
        """The leaf with something changed in each of its measures."""
        return Leaf(each(self.column, **changes), self.source)

    def with_words(self, words: str) -> Leaf:
        """The leaf with more words over its start."""
        first, *others = self.column
        joined = ", ".join(filter(None, (first.words, words)))
        return Leaf((replace(first, words=joined), *others), self.source)


def each(column: Column, **changes: Any) -> Column:
    """A column with something changed in each of its measures."""
    return tuple(replace(measure, **changes) for measure in column)


@dataclass(frozen=True)
class PlayedColumns:
    """All columns as played, and the blocks that they form."""

    columns: Sequence[Column]
    blocks: Sequence[Block]

    @cached_property
    def alike(self) -> tuple[int, ...]:
        """A number for each column. Columns with the same number can be played from one column on
        paper; words, keys and meters that are new at the start of a block do not count."""
        starts = {block.first for block in self.blocks}
        known: dict[Hashable, int] = {}
        return tuple(
            known.setdefault(_bare(column, first=at in starts), len(known))
            for at, column in enumerate(self.columns)
        )

    def leaves(self, first: int, last: int) -> list[Leaf]:
        """Columns [first, last) as they are."""
        return [Leaf(self.columns[at], at) for at in range(first, last)]

    def same(self, one: int, other: int, count: int) -> bool:
        """Whether `count` columns from `one` and from `other` on are alike."""
        return self.alike[one : one + count] == self.alike[other : other + count]

    def folded(self, blocks: Sequence[Block], *, endings: bool = True) -> list[Leaf]:
        """Neighbouring blocks as leaves: a block that is played several times in a row is written
        once. Without `endings` only equal blocks are folded."""
        leaves: list[Leaf] = []
        index = 0
        while index < len(blocks):
            block = blocks[index]
            times = self._times(blocks, index)
            tail = self._ending(blocks, index) if endings and times == 1 else 0
            body = self.leaves(block.first, block.last)
            if times > 1:
                body = repeated(body, times)
                index += times
            elif tail:
                other = blocks[index + 1]
                tails = [body[-tail:], self.leaves(other.last - tail, other.last)]
                body = with_endings(body[:-tail], tails)
                index += 2
            else:
                index += 1
            if times > 1 or tail:
                last = self.columns[blocks[index - 1].last - 1]
                body[-1] = body[-1].with_all(barline=last[0].barline)
            leaves += body
        return leaves

    def carried(self, at: int) -> bool:
        """Whether a sound is tied into a column from the one before."""
        return any(_carried(measure) for measure in self.columns[at])

    def _follows(self, one: Block, other: Block) -> bool:
        return (
            one.name == other.name
            and one.length == other.length
            and _plain_start(self.columns[other.first])
            and not self.carried(one.first)
        )

    def _times(self, blocks: Sequence[Block], index: int) -> int:
        """How many blocks from `index` on are the same music."""
        count, block = 1, blocks[index]
        for other in blocks[index + 1 :]:
            if not self._follows(block, other):
                break
            if not self.same(block.first, other.first, block.length):
                break
            count += 1
        return count

    def _ending(self, blocks: Sequence[Block], index: int) -> int:
        """How many measures the first ending has, when the next block differs only there and in at
        most half of its measures; else 0."""
        if index + 1 >= len(blocks):
            return 0
        block, other = blocks[index], blocks[index + 1]
        if not self._follows(block, other):
            return 0
        tail = next(
            (
                tail
                for tail in range(1, block.length)
                if self.same(block.first, other.first, block.length - tail)
            ),
            block.length,
        )
        return tail if tail * 2 <= block.length and not self.carried(other.last - tail) else 0


def repeated(body: list[Leaf], times: int, words: str | None = "") -> list[Leaf]:
    """Leaves between repeat signs. The signs do not show more than two times: these are said in
    `words`, by default "3 x"; None for no words."""
    out = list(body)
    out[0] = out[0].with_all(repeat_start=True)
    out[-1] = out[-1].with_all(repeat_end=times)
    if words is None:
        return out
    return with_words(out, words or (f"{times} x" if times > 2 else ""))


def with_words(leaves: list[Leaf], words: str) -> list[Leaf]:
    """Leaves with words over their start."""
    return [leaves[0].with_words(words), *leaves[1:]] if words else leaves


def with_endings(
    body: list[Leaf], tails: Sequence[list[Leaf]], numbers: Sequence[tuple[int, ...]] = ()
) -> list[Leaf]:
    """A repeated body with an ending for each tail; `numbers` are the times of each ending, by
    default one each."""
    numbers = numbers or [(time,) for time in range(1, len(tails) + 1)]
    times = max(max(one) for one in numbers)
    out = [body[0].with_all(repeat_start=True), *body[1:]]
    for index, (tail, time) in enumerate(zip(tails, numbers, strict=True)):
        final = index == len(tails) - 1
        tail = _bracketed(tail, time, closed=not final)
        if not final:
            tail[-1] = tail[-1].with_all(repeat_end=times)
        out += tail
    return out


def _bracketed(leaves: list[Leaf], times: tuple[int, ...], *, closed: bool) -> list[Leaf]:
    stop = "stop" if closed else "discontinue"
    out = []
    for i, leaf in enumerate(leaves):
        first, last = i == 0, i == len(leaves) - 1
        edge = "start" if first else ""
        if last:
            edge = f"{edge}+{stop}" if edge else stop
        out.append(leaf.with_all(ending=times, ending_edge=edge))
    return out


def _bare(column: Column, *, first: bool) -> Column:
    """The column without everything that may differ between columns played from one on paper."""
    bare = [
        replace(measure, number=1, rehearsal="", barline=Barline.REGULAR, added=False)
        for measure in column
    ]
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


def numbered(columns: Sequence[Column]) -> list[Column]:
    """The columns numbered as they stand on paper; a pickup is 0."""
    first = 0 if columns and columns[0][0].implicit else 1
    return [each(column, number=first + i) for i, column in enumerate(columns)]
