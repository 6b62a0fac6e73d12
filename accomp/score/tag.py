"""The bars of a performance in order, with the tag that an ending may add.

Conventions: as in `accomp.tune.unfold`. A tag plays the last four bars again; it is a section of
its own, so that patterns begin anew with it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from accomp.tune import PlayedBar

TAG_BARS = 4
TAG = "Tag"


def with_tag(bars: Sequence[PlayedBar], times: int) -> tuple[tuple[PlayedBar, int], ...]:
    """Every bar with the index of the bar in `bars` that it is, the last four `times` more."""
    found = [(bar, index) for index, bar in enumerate(bars)]
    last = range(max(0, len(bars) - TAG_BARS), len(bars))
    for _ in range(times):
        for place, index in enumerate(last):
            before = found[-1][0]
            bar = replace(
                bars[index],
                number=before.number + 1,
                start=before.start + before.meter.bar,
                section=TAG,
                section_bar=place,
                section_bars=len(last),
                opens=place == 0,
            )
            found.append((bar, index))
    return tuple(found)


def places(bars: Sequence[PlayedBar]) -> tuple[str, ...]:
    """A name for every bar: chorus, section and how often it has come, bar of the section."""
    times: Counter[tuple[int, str]] = Counter()
    found = []
    for bar in bars:
        if bar.section_bar == 0:
            times[bar.chorus, bar.section] += 1
        number = times[bar.chorus, bar.section]
        found.append(f"{bar.chorus}/{bar.section}/{number}/{bar.section_bar}")
    return tuple(found)
