"""The length of a tune as played, found before any of it is made.

Conventions: a few lines of a file can ask for any number of choruses. So only one and two times
through are laid out; their difference is the length of each further chorus.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from accomp.time import MOST_MINUTES, MOST_PLAYED
from accomp.tune import PlayedBar, Tune, unfold


@dataclass(frozen=True, slots=True)
class Length:
    """The number of bars and the approximate minutes of a performance."""

    bars: int
    minutes: float

    @property
    def too_much(self) -> str:
        """The part of a message that says which limit is passed; empty when none is."""
        if self.bars > MOST_PLAYED:
            return f"has {self.bars:,} bars, and at most {MOST_PLAYED:,} are played"
        if self.minutes > MOST_MINUTES:
            hours = f"{self.minutes / 60:.1f} hours"
            return f"lasts {hours}, and at most {MOST_MINUTES / 60:g} are played"
        return ""


def length_of(tune: Tune, choruses: int, tempo_bpm: float) -> Length:
    """The length of `choruses` times through a tune."""
    once, twice = (unfold(tune, times) for times in (1, 2))
    more = choruses - 1
    beats = _beats(once) + more * (_beats(twice) - _beats(once))
    return Length(len(once) + more * (len(twice) - len(once)), beats / tempo_bpm)


def _beats(bars: Iterable[PlayedBar]) -> int:
    return sum(bar.meter.beats for bar in bars)
