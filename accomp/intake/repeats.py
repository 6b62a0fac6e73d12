"""The bars of a lead sheet in the order played: repeats, endings, da capo, segno and coda followed.

Conventions: bars are named by their index in written order. After a jump back (D.C., D.S.) repeats
are not taken and the last of several endings is played (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

from accomp.intake.written import RoadSigns, WrittenBar, WrittenTune
from accomp.time import MOST_BARS


class EndlessRepeatsError(ValueError):
    """The signs lead to more bars than a tune may have, perhaps without end."""


def playing_order(tune: WrittenTune) -> tuple[int, ...]:
    """Indices of the bars as they are played once through. Raises `EndlessRepeatsError`."""
    if not tune.parts:
        return _BarWalk(tune.bars, tune.notice).order()
    ranges = _part_ranges(tune.bars)
    order: list[int] = []
    for name in tune.parts:
        if name not in ranges:
            tune.say(f"the order of parts names {name!r}, and no part has that name")
            continue
        first, last = ranges[name]
        inside = _BarWalk(tune.bars[first:last], tune.notice).order()
        order += [first + index for index in inside]
        if len(order) > MOST_BARS:
            raise EndlessRepeatsError
    return tuple(order)


def _part_ranges(bars: Sequence[WrittenBar]) -> dict[str, tuple[int, int]]:
    """Indices [first, last) of each marked part; of two with one name the first counts."""
    starts = [index for index, bar in enumerate(bars) if bar.signs.mark]
    ranges: dict[str, tuple[int, int]] = {}
    for start, end in zip(starts, [*starts[1:], len(bars)], strict=True):
        ranges.setdefault(bars[start].signs.mark, (start, end))
    return ranges


class _BarWalk:
    """One walk through the bars that follows the signs."""

    def __init__(self, bars: Sequence[WrittenBar], notice: Callable[[str, str], None]) -> None:
        self.bars = bars
        self.notice = notice
        self.jumped = False
        self.start = 0  # where a repeat goes back to
        self.time = 1  # first time, second time ...

    def order(self) -> tuple[int, ...]:
        """All bars as played."""
        order: list[int] = []
        at: int | None = 0
        while at is not None and at < len(self.bars):
            self._arrive(at, order[-1] if order else None)
            skipped = self._past_ending(at)
            if skipped is not None:
                at = skipped
                continue
            order.append(at)
            if len(order) > MOST_BARS:
                raise EndlessRepeatsError
            at = self._after(at)
        return tuple(order)

    def _arrive(self, at: int, before: int | None) -> None:
        bar = self.bars[at]
        left_endings = before is not None and self.bars[before].endings and not bar.endings
        if at != self.start and (bar.signs.repeat_start or (left_endings and at > self.start)):
            self.start, self.time = at, 1

    def _past_ending(self, at: int) -> int | None:
        """The bar to go on with when the bracket over bar `at` is not for this time, else None."""
        bar = self.bars[at]
        if not bar.endings:
            return None
        last = max(self._group(at))
        wanted = last if self.jumped else self.time
        if wanted in bar.endings:
            return None
        after = at + 1
        while after < len(self.bars) and self._same_ending(after):
            after += 1
        goes_back = any(self.bars[index].signs.repeat_end for index in range(at, after))
        if wanted > last and last in bar.endings and not goes_back:
            return None  # no later ending is left
        return after

    def _same_ending(self, at: int) -> bool:
        bar = self.bars[at]
        return bool(bar.endings) and not bar.signs.opens_ending

    def _group(self, at: int) -> set[int]:
        """Numbers of all endings that stand side by side with the one over bar `at`."""
        first = last = at
        while first > 0 and self.bars[first - 1].endings:
            first -= 1
        while last + 1 < len(self.bars) and self.bars[last + 1].endings:
            last += 1
        return set().union(*(bar.endings for bar in self.bars[first : last + 1]))

    def _after(self, at: int) -> int | None:
        bar, signs = self.bars[at], self.bars[at].signs
        if self.jumped and signs.fine:
            return None
        if self.jumped and signs.to_coda:
            coda = self._find(lambda other: other.coda, at + 1)
            if coda is not None:
                return coda
            self.notice(bar.number, "'to coda' leads nowhere, no coda follows; it is passed over")
        if signs.repeat_end and not self.jumped:
            times = max(signs.repeat_end, max(self._group(at)) if bar.endings else 0)
            if self.time < times:
                self.time += 1
                return self.start
            if not (at + 1 < len(self.bars) and self.bars[at + 1].endings):
                self.start, self.time = at + 1, 1
        if signs.jump and not self.jumped:
            target = 0 if signs.jump == "D.C." else self._find(lambda other: other.segno, 0)
            if target is None:
                self.notice(bar.number, "D.S. goes back to a segno, and there is none; passed over")
            else:
                self.jumped = True
                return target
        return at + 1

    def _find(self, is_it: Callable[[RoadSigns], bool], start: int) -> int | None:
        for index in range(start, len(self.bars)):
            if is_it(self.bars[index].signs):
                return index
        return None


def segments(bars: Sequence[WrittenBar], order: Sequence[int]) -> list[tuple[int, int]]:
    """Runs of bars, [first, last), that are always played through, in written order.

    Cuts are where a jump leaves or arrives, at marks, double bar lines, repeat signs and endings,
    and where key or meter changes. Bars that are never played are in no run.
    """
    cuts = {0, len(bars)}
    for before, after in pairwise(order):
        if after != before + 1:
            cuts |= {before + 1, after}
    if order:
        cuts |= {order[0], order[-1] + 1}
    for index, bar in enumerate(bars):
        signs = bar.signs
        if signs.mark or signs.repeat_start or signs.opens_ending:
            cuts.add(index)
        if signs.double or signs.repeat_end:
            cuts.add(index + 1)
        other = bars[max(index - 1, 0)]
        if (bar.meter, bar.key, bar.endings) != (other.meter, other.key, other.endings):
            cuts.add(index)
    edges = sorted(cuts)
    played = set(order)
    return [(first, last) for first, last in pairwise(edges) if first in played]
