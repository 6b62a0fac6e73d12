"""The clock, which says when a written moment is played, and the count-in before the first bar.

Conventions: score time in exact fractions of a whole note from the first full bar, a pickup before
zero; played time in float seconds from the start of the file, where the count-in begins. The whole
note keeps its length through the tune, so that a quarter stays a quarter where the meter changes.

Times in a count-in are fractions of a whole note from the start of the file. A pickup lies at the
end of the count-in's last bar, and the clicks stop where it begins; when it leaves less than half a
bar of clicks, one bar more is counted. Without clicks a pickup still has a bar.
"""

from __future__ import annotations

import bisect
from dataclasses import dataclass
from fractions import Fraction

from accomp.rhythm.feel import swung_time
from accomp.score.arrangement import Arrangement
from accomp.score.performance import TempoMark
from accomp.time import Meter


class Clock:
    """Seconds at a score time, after `lead` whole notes of count-in.

    Swing is applied here, to all players alike; only the drums may swing more (`drums`). Over the
    bars of a ritardando the tempo falls beat by beat: each beat has the tempo that a linear fall
    would reach in the middle of the beat.
    """

    def __init__(self, arrangement: Arrangement, lead: Fraction) -> None:
        self.whole_s = 60.0 / arrangement.tempo / float(arrangement.beat)
        self.lead = lead
        self._bars = arrangement.bars
        tempos = [(bar.style, arrangement.tempo_of(bar.style)) for bar in arrangement.bars]
        self._swings = [style.strings_swing_at(tempo) for style, tempo in tempos]
        self._drums = [style.swing_at(tempo) for style, tempo in tempos]
        self._bar_starts = [bar.span.start for bar in arrangement.bars]
        # From position i (in whole notes) on, a whole note lasts `_wholes_s[i]` seconds.
        self._positions, self._wholes_s = _falling(arrangement, self.whole_s)
        self._at_s = [float(lead) * self.whole_s]
        for index in range(1, len(self._positions)):
            length = self._positions[index] - self._positions[index - 1]
            self._at_s.append(self._at_s[-1] + length * self._wholes_s[index - 1])

    def __call__(self, moment: Fraction) -> float:
        """Seconds at `moment`, swing and ritardando included."""
        return self._seconds(moment, self._swings)

    def drums(self, moment: Fraction) -> float:
        """Seconds at `moment` with the swing of the drums."""
        return self._seconds(moment, self._drums)

    def _seconds(self, moment: Fraction, swings: list[float]) -> float:
        index = max(0, bisect.bisect_right(self._bar_starts, moment) - 1)
        bar, swing = self._bars[index], swings[index]
        position = float(moment)
        if swing != 1.0 and moment < bar.span.end:
            inside = moment - bar.span.start
            pair = bar.style.swing_pair
            position = float(bar.span.start) + swung_time(inside, swing, pair)
        step = max(0, bisect.bisect_right(self._positions, position) - 1)
        return self._at_s[step] + (position - self._positions[step]) * self._wholes_s[step]

    def tempos(self) -> tuple[TempoMark, ...]:
        """The tempo at the start of the file and wherever it changes."""
        marks = [TempoMark(0.0, self.whole_s / 4)]
        for at_s, whole_s in zip(self._at_s[1:], self._wholes_s[1:], strict=True):
            marks.append(TempoMark(at_s, whole_s / 4))
        return tuple(marks)


def _falling(arrangement: Arrangement, whole_s: float) -> tuple[list[float], list[float]]:
    """Positions (in whole notes), and how many seconds a whole note lasts from each of them on."""
    positions, wholes_s = [0.0], [whole_s]
    slow = arrangement.bars[len(arrangement.bars) - arrangement.ritard :]
    if not arrangement.ritard or not slow:
        return positions, wholes_s
    start, end = slow[0].span.start, slow[-1].span.end
    now = start
    for bar in slow:
        while now < bar.span.end:
            middle = (now + bar.bar.meter.beat / 2 - start) / (end - start)
            tempo = 1.0 - (1.0 - arrangement.slow_to) * float(middle)
            if now == 0:
                positions, wholes_s = [], []
            positions.append(float(now))
            wholes_s.append(whole_s / tempo)
            now += bar.bar.meter.beat
    return positions, wholes_s


@dataclass(frozen=True, slots=True)
class CountIn:
    """What comes before the first full bar: its `length`, and (time, accented) for each click."""

    length: Fraction
    clicks: tuple[tuple[Fraction, bool], ...]


def counted_in(meter: Meter, pickup: Fraction, count_in: int) -> CountIn:
    """`count_in` bars of one click a beat, the first of each bar accented."""
    bars = count_in
    if count_in and pickup * 2 > meter.bar:
        bars += 1
    if pickup and not bars:
        return CountIn(meter.bar, ())
    length = bars * meter.bar
    beats = range(int(length / meter.beat))
    return CountIn(
        length,
        tuple(
            (beat * meter.beat, beat % meter.beats == 0)
            for beat in beats
            if beat * meter.beat < length - pickup
        ),
    )
