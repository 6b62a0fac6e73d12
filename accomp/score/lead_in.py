"""The count-in: clicks before the first bar, with room for a pickup.

Conventions: times are fractions of a whole note from the start of the file. A pickup lies at the
end of the last bar of the count-in and the clicks stop where it begins; when it leaves less than
half a bar of clicks, one bar more is counted. Without clicks a pickup still has its bar.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from accomp.time import Meter


@dataclass(frozen=True, slots=True)
class LeadIn:
    """What comes before the first full bar: its `length`, and (time, accented) for each click."""

    length: Fraction
    clicks: tuple[tuple[Fraction, bool], ...]


def lead_in(meter: Meter, pickup: Fraction, count_in: int) -> LeadIn:
    """`count_in` bars of one click a beat, the first of each bar accented."""
    bars = count_in
    if count_in and pickup * 2 > meter.bar:
        bars += 1
    if pickup and not bars:
        return LeadIn(meter.bar, ())
    length = bars * meter.bar
    beats = range(int(length / meter.beat))
    return LeadIn(
        length,
        tuple(
            (beat * meter.beat, beat % meter.beats == 0)
            for beat in beats
            if beat * meter.beat < length - pickup
        ),
    )
