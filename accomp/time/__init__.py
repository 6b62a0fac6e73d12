"""Meter, beats, bars and spans in exact fractions. Knows nothing of chords or seconds."""

from accomp.time.limits import FASTEST_BPM, MOST_BARS, MOST_CHORUSES, SLOWEST_BPM
from accomp.time.meter import METERS, Meter
from accomp.time.span import Span

__all__ = [
    "FASTEST_BPM",
    "METERS",
    "MOST_BARS",
    "MOST_CHORUSES",
    "SLOWEST_BPM",
    "Meter",
    "Span",
]
