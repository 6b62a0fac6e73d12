"""Meter, beats, bars and spans in exact fractions. Knows nothing of chords or seconds."""

from accomp.time.limits import (
    FASTEST_BPM,
    MOST_BARS,
    MOST_CHORUSES,
    MOST_MINUTES,
    MOST_PLAYED,
    SLOWEST_BPM,
    TEMPO,
    USUAL_BPM,
)
from accomp.time.meter import METER, METERS, Meter
from accomp.time.span import Span

__all__ = [
    "FASTEST_BPM",
    "METER",
    "METERS",
    "MOST_BARS",
    "MOST_CHORUSES",
    "MOST_MINUTES",
    "MOST_PLAYED",
    "SLOWEST_BPM",
    "TEMPO",
    "USUAL_BPM",
    "Meter",
    "Span",
]
