"""Meter, beats, bars and spans in exact fractions. Knows nothing of chords or seconds."""

from accomp.time.meter import FASTEST_BPM, METERS, SLOWEST_BPM, Meter
from accomp.time.span import Span

__all__ = ["FASTEST_BPM", "METERS", "SLOWEST_BPM", "Meter", "Span"]
