"""Written bars laid on full bars: pickups, bars split by a repeat sign, bars too short or long.

Conventions: a lead sheet often ends a passage with three beats because the next one begins with
one. A tune of ours has full bars only, so the short bar is filled up and the pickup before the next
passage sounds within it. Positions count from the start of the segment in whole notes; a pickup's
is negative.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from accomp.time import Meter
from accomp.tune.leadsheet.written import WrittenBar, WrittenChord, WrittenTune


@dataclass(frozen=True, slots=True)
class FullBar:
    """A full bar with its chord symbols as written; `number` is that of its first written bar."""

    number: str
    chords: tuple[WrittenChord, ...]


@dataclass(frozen=True)
class FormLayout:
    """A segment in full bars; `positions` says where each written bar begins.

    `pickup_chord` is the last chord symbol in a pickup before it, `pickup` that pickup's length.
    """

    first: int
    last: int
    meter: Meter
    bars: tuple[FullBar, ...]
    positions: dict[int, Fraction]
    pickup: Fraction
    pickup_chord: WrittenChord | None

    @property
    def length(self) -> Fraction:
        """Length of the full bars together."""
        return len(self.bars) * self.meter.bar


class Surveyor:
    """Lays out the segments of one tune; it knows who follows whom on the road."""

    def __init__(self, tune: WrittenTune, order: Sequence[int], pickups: bool = True) -> None:
        self.pickups = pickups
        self.tune = tune
        self.bars = tune.bars
        self.before: dict[int, set[int]] = {}
        self.after: dict[int, set[int]] = {}
        for one, next_one in pairwise(order):
            self.after.setdefault(one, set()).add(next_one)
            self.before.setdefault(next_one, set()).add(one)
        self.opening = order[0]
        self.closing = order[-1]

    def layout(self, first: int, last: int) -> FormLayout:
        """The segment of written bars [first, last)."""
        meter = Meter.parse(self.bars[first].meter)
        positions: dict[int, Fraction] = {}
        bars: list[FullBar] = []
        pickup = Fraction(0)
        pickup_chord = None
        index = first
        if self._is_pickup(first):
            pickup = self.bars[first].length
            positions[first] = -pickup
            pickup_chord = self.bars[first].chords[-1] if self.bars[first].chords else None
            index += 1
        while index < last:
            start = len(bars) * meter.bar
            positions[index] = start
            bar = self.bars[index]
            chords = list(bar.chords)
            length = bar.length
            if length < meter.bar and index + 1 < last and self._complete(index, index + 1):
                follower = self.bars[index + 1]
                positions[index + 1] = start + length
                chords += [WrittenChord(length + c.onset, c.symbol) for c in follower.chords]
                length += follower.length
                index += 1
            elif length < meter.bar:
                chords += self._tail(index, meter)
                length = meter.bar
            bars += self._cut(bar, chords, length, meter)
            index += 1
        return FormLayout(first, last, meter, tuple(bars), positions, pickup, pickup_chord)

    def _bar_length(self, index: int) -> Fraction:
        return Meter.parse(self.bars[index].meter).bar

    def _complete(self, one: int, other: int) -> bool:
        """Whether two written bars make one full bar together."""
        whole = self._bar_length(one)
        return (
            self.bars[one].length < whole
            and self.bars[one].length + self.bars[other].length == whole
        )

    def _is_pickup(self, index: int) -> bool:
        """Whether a segment that begins with bar `index` begins with a pickup."""
        if not self.pickups or self.bars[index].length >= self._bar_length(index):
            return False
        before = self.before.get(index, set())
        return index == self.opening or any(self._complete(other, index) for other in before)

    def _tail(self, index: int, meter: Meter) -> list[WrittenChord]:
        """Chords that the pickups after a short bar put into the rest of it."""
        bar = self.bars[index]
        followers = [other for other in self.after.get(index, ()) if self._complete(index, other)]
        if len(followers) < len(self.after.get(index, ())) or (
            not followers and index != self.closing
        ):
            self.tune.notice(
                bar.number,
                f"it holds {_beats(bar.length, meter)} of {_beats(meter.bar, meter)} beats and is "
                "filled up with silence",
            )
        tails = {self.bars[other].chords for other in followers}
        if index == self.closing:
            tails.add(())  # at the very end nothing follows
        if len(tails) == 1:
            return [WrittenChord(bar.length + c.onset, c.symbol) for c in tails.pop()]
        if len(tails) > 1:
            self.tune.notice(
                bar.number,
                "the pickups that follow it have different chords, which are not taken over",
            )
        return []

    def _cut(
        self, bar: WrittenBar, chords: list[WrittenChord], length: Fraction, meter: Meter
    ) -> list[FullBar]:
        """One full bar, or several from a bar that is too long."""
        count = -(-length // meter.bar)
        if count > 1:
            self.tune.notice(
                bar.number,
                f"it holds {_beats(length, meter)} beats, and {meter} has "
                f"{_beats(meter.bar, meter)}; it becomes {count} bars",
            )
        cut = []
        for part in range(count):
            start = part * meter.bar
            inside = tuple(
                WrittenChord(chord.onset - start, chord.symbol)
                for chord in chords
                if start <= chord.onset < start + meter.bar
            )
            cut.append(FullBar(bar.number, inside))
        return cut


def _beats(length: Fraction, meter: Meter) -> str:
    """A length counted as the meter is counted: 3/8 of a whole note is 3 in 6/8."""
    return str(length / meter.unit)
