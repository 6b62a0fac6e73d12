"""Written bars and chords laid out in full bars, each chord at a token of a tune file's bar.

Conventions: a lead sheet often ends a passage with a bar of three beats, because the next passage
begins with a pickup of one. Our tunes have full bars only. So a short bar is filled up, and the
pickup after it sounds within it; two halves of a bar that a repeat sign splits are joined; a bar
that is too long is cut. A chord between two tokens moves to the nearest token, with a notice;
nothing is left out without a notice. Positions count from the start of the segment in whole notes;
the position of a pickup is negative.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from accomp.errors import ChordError
from accomp.harmony import NO_CHORD, Chord, parse_chord
from accomp.intake.written import WrittenBar, WrittenChord, WrittenTune
from accomp.time import Meter, Span
from accomp.tune.model import Bar, ChordSpan

Notice = Callable[[str, str], None]


@dataclass(frozen=True, slots=True)
class FullBar:
    """A full bar with its chord symbols as written; `number` is that of its first written bar."""

    number: str
    chords: tuple[WrittenChord, ...]


@dataclass(frozen=True)
class FormLayout:
    """The written bars [first, last) in full bars.

    `positions` has the start of each written bar. `pickup` is the length of the pickup that the
    segment begins with (0 without one), and `pickup_chord` the last chord symbol in it.
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
    """Lays out the segments of one tune; it knows which bars follow which in the order played."""

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
        return self.bars[one].length + self.bars[other].length == self._bar_length(one)

    def _is_pickup(self, index: int) -> bool:
        """Whether a segment that begins with bar `index` begins with a pickup."""
        if not self.pickups or self.bars[index].length >= self._bar_length(index):
            return False
        before = self.before.get(index, set())
        return index == self.opening or any(self._complete(other, index) for other in before)

    def _tail(self, index: int, meter: Meter) -> list[WrittenChord]:
        """Chords for the rest of a short bar, taken from the pickup that follows it."""
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
        for index in range(count):
            start = index * meter.bar
            inside = tuple(
                WrittenChord(chord.onset - start, chord.symbol)
                for chord in chords
                if start <= chord.onset < start + meter.bar
            )
            cut.append(FullBar(bar.number, inside))
        return cut


def _beats(length: Fraction, meter: Meter) -> str:
    """A length in units of the meter: 3/8 of a whole note is 3 in 6/8."""
    return str(length / meter.unit)


def bar_of(bar: FullBar, meter: Meter, before: Chord | None, notice: Notice) -> Bar:
    """A bar of a tune. The chord `before` the bar goes on up to its first chord symbol."""
    changes = _placed(bar, meter, notice)
    if not changes or changes[0][0] > 0:
        again = bool(changes) and changes[0][1] == before
        changes[: 1 if again else 0] = [(Fraction(0), before)]
    ends = [start for start, _ in changes[1:]] + [meter.bar]
    spans = [
        ChordSpan(chord, Span(start, end))
        for (start, chord), end in zip(changes, ends, strict=True)
    ]
    return Bar(tuple(spans))


def _placed(bar: FullBar, meter: Meter, notice: Notice) -> list[tuple[Fraction, Chord | None]]:
    """Chord changes in order, each at a place where a row of tokens can have it."""
    wanted = [(chord.onset, chord.symbol) for chord in sorted(bar.chords, key=lambda c: c.onset)]
    count = next(
        (share for share in meter.shares if all(_fits(at, meter.bar / share) for at, _ in wanted)),
        meter.shares[-1],
    )
    share = meter.bar / count
    changes: list[tuple[Fraction, Chord | None]] = []
    last = -1
    for at, symbol in wanted:
        name = symbol or NO_CHORD
        # The nearest free token; of two equally near ones the earlier.
        token = max(int(-((share - 2 * at) // (2 * share))), last + 1)
        if token >= count:
            notice(bar.number, f"{name} on {_beat_text(at, meter)} finds no room and is left out")
            continue
        if token * share != at:
            notice(
                bar.number,
                f"{name} on {_beat_text(at, meter)} is moved to "
                f"{_beat_text(token * share, meter)}, the nearest place a tune file can show",
            )
        last = token
        chord = chord_of(bar.number, symbol, notice)
        if not (changes and changes[-1][1] == chord):  # the same chord again says nothing new
            changes.append((token * share, chord))
    return changes


def _fits(at: Fraction, share: Fraction) -> bool:
    return (at / share).denominator == 1


def _beat_text(at: Fraction, meter: Meter) -> str:
    """A place in the bar, counted in units of the meter: "2", "2 1/2"."""
    whole, rest = divmod(at / meter.unit, 1)
    return f"{whole + 1} {rest}" if rest else f"{whole + 1}"


def chord_of(number: str, symbol: str | None, notice: Notice) -> Chord | None:
    """The chord of a symbol; None for N.C. and, with a notice, for a text that is no symbol."""
    if symbol is None:
        return None
    try:
        return parse_chord(symbol)
    except ChordError as error:
        notice(number, f"{error} Nobody plays there.")
        return None
