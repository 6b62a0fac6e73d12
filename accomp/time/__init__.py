"""Meter, beats, bars and spans in exact fractions. Knows nothing of chords or seconds."""

from accomp.time.meter import METERS, Meter
from accomp.time.span import Span

__all__ = ["METERS", "Meter", "Span"]
