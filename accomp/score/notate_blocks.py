"""The blocks of bars that are played in one go: sections, and each time of a repeat inside one.

Conventions: columns count from the first one on paper, a pickup's if there is one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from accomp.score.arrangement import ArrangedBar
from accomp.score.notate_fold import Block


def blocks_of(bars: Sequence[ArrangedBar], *, pickup: bool = False) -> list[Block]:
    """The blocks of bars in the order played, in columns."""
    shift = 1 if pickup and bars else 0
    starts = sorted({*_openings(bars), *_repeat_starts(bars)})
    ends = [*starts[1:], len(bars)]
    return [
        Block(
            name=f"{bar.bar.section}/{bar.bar.spot.bar if not bar.bar.opens else 0}",
            chorus=bar.bar.chorus,
            first=start + shift,
            last=end + shift,
            stage=None if bar.added else bar.bar.spot.stage,
        )
        for start, end in zip(starts, ends, strict=True)
        for bar in (bars[start],)
    ]


def _openings(bars: Sequence[ArrangedBar]) -> Iterator[int]:
    """Where a section begins, and where a repeat inside one goes back or has ended."""
    for at, bar in enumerate(bars):
        one, before = bar.bar.spot, bars[max(at - 1, 0)].bar.spot
        again = one.time != before.time and one.section == before.section
        if at == 0 or bar.bar.opens or again:
            yield at


def _repeat_starts(bars: Sequence[ArrangedBar]) -> Iterator[int]:
    """Where a repeat inside a section begins for the first time."""
    for at, (before, bar) in enumerate(pairwise(bars), 1):
        if bar.bar.spot.time == 2 and before.bar.spot.time == 1:
            yield at - (before.bar.spot.bar - bar.bar.spot.bar + 1)
