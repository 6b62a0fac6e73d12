"""The course of a performance: its bars in order, the tag at its end, the melody laid over them.

Conventions: bars as in `accomp.tune.unfold`. A tag plays the last four bars again; it is a section
of its own, so that patterns begin anew with it. A melody's pickup before a chorus sounds at the end
of the chorus before it; before a tag there is none.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from accomp.score.arrangement import MelodyStroke
from accomp.time import Span
from accomp.tune import PlayedBar
from accomp.tune.melody import MelodyNote

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


def melody_strokes(
    bars: Sequence[tuple[PlayedBar, PlayedBar]], notes: Iterable[MelodyNote]
) -> tuple[MelodyStroke, ...]:
    """The melody over all `bars`, each with the bar of the first chorus that it repeats.

    A note is cut where the next one begins, and at the last bar line.
    """
    line = sorted(notes, key=lambda note: note.span)
    pickup = [note for note in line if note.span.start < 0]
    strokes: list[MelodyStroke] = []
    chorus = 0
    for bar, first in bars:
        if bar.chorus != chorus and bar.section != TAG:
            chorus = bar.chorus
            strokes += [_at(note, bar, first) for note in pickup]
        window = Span(first.start, first.start + first.meter.bar)
        strokes += [_at(note, bar, first) for note in line if note.span.start in window]
    if not strokes:
        return ()
    end = bars[-1][0].start + bars[-1][0].meter.bar
    strokes = sorted(strokes, key=lambda stroke: stroke.span.start)
    limits = [*(stroke.span.start for stroke in strokes[1:]), end]
    return tuple(
        MelodyStroke(Span(stroke.span.start, min(stroke.span.end, limit)), stroke.pitch)
        for stroke, limit in zip(strokes, limits, strict=True)
        if stroke.span.start < limit
    )


def _at(note: MelodyNote, bar: PlayedBar, first: PlayedBar) -> MelodyStroke:
    return MelodyStroke(note.span.shifted(bar.start - first.start), note.pitch)
