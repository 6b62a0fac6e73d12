"""The bars of a tune in the order they are played.

Conventions: bars count from 1 through the whole performance; `start` is score time from the first
full bar (a pickup lies before zero).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from accomp.harmony import Key
from accomp.time import Meter
from accomp.tune.model import ChordSpan, Tune


@dataclass(frozen=True, slots=True)
class PlayedBar:
    """A bar in its place in the performance.

    `number` counts played bars from 1, `chorus` times through from 1; `section_bar` is the index
    of the bar in its section from 0, and `opens` says that a section begins here.
    """

    number: int
    start: Fraction
    chorus: int
    section: str
    section_bar: int
    opens: bool
    key: Key
    meter: Meter
    style: str | None
    chords: tuple[ChordSpan, ...]


def unfold(tune: Tune, choruses: int = 1) -> tuple[PlayedBar, ...]:
    """All bars of `choruses` times through the form, in order."""
    bars: list[PlayedBar] = []
    start = Fraction(0)
    for chorus in range(1, choruses + 1):
        change = tune.choruses[chorus - 1] if chorus <= len(tune.choruses) else None
        for name in tune.form:
            section = tune.sections[name]
            style = (change.style if change else None) or section.style or tune.style
            for index, bar in enumerate(section.bars):
                bars.append(
                    PlayedBar(
                        number=len(bars) + 1,
                        start=start,
                        chorus=chorus,
                        section=name,
                        section_bar=index,
                        opens=index == 0,
                        key=section.key,
                        meter=section.meter,
                        style=style,
                        chords=bar.chords,
                    )
                )
                start += section.meter.bar
    return tuple(bars)
