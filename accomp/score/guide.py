"""The melody laid over a performance: once a chorus, and again in a tag.

Conventions: a pickup before a chorus sounds at the end of the chorus before it; before a tag there
is none.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from accomp.score.arrangement import MelodyStroke
from accomp.score.tag import TAG
from accomp.time import Span
from accomp.tune import PlayedBar
from accomp.tune.melody import MelodyNote


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
