"""The bars that are printed: a bar that comes again is printed as it is played the first time.

Conventions: a bar comes again when it is written in the same place (`accomp.tune.Spot`), in another
chorus or another time of a repeat. It is printed as the first time, with the bass and the rest of
the band, where the right hand makes the same strokes of the same style over the same chords,
however hard. A bar that is struck otherwise (the last one, an answer before the coda) stays as it
is.
"""

from __future__ import annotations

from dataclasses import replace

from accomp.harmony import Chord
from accomp.rhythm.stroke import ForceStep
from accomp.score.arrangement import ArrangedBar, Arrangement, BandStroke, Strum
from accomp.tune import Spot

BarStrokes = tuple[list[Chord | None], list[Strum]]


def every_time_as_the_first(arrangement: Arrangement) -> Arrangement:
    """The arrangement as it is printed."""
    firsts: dict[Spot, ArrangedBar] = {}
    bars = []
    for bar in arrangement.bars:
        spot = replace(bar.bar.spot, time=1)
        first = firsts.setdefault(spot, bar) if not bar.added else bar
        same = first is not bar and bar.style == first.style and _struck(bar) == _struck(first)
        bars.append(_with_music_of(first, bar) if same else bar)
    return replace(arrangement, bars=tuple(bars))


def _struck(bar: ArrangedBar) -> BarStrokes:
    """Chords and strokes of a bar, from its bar line, all equally hard."""
    strums = [
        replace(strum, span=strum.span.shifted(-bar.span.start), force=ForceStep.PLAIN)
        for strum in bar.strums
    ]
    return [change.chord for change in bar.changes], strums


def _with_music_of(first: ArrangedBar, bar: ArrangedBar) -> ArrangedBar:
    """`bar` with all strokes and band parts of `first`."""
    by = bar.span.start - first.span.start

    def moved(line: tuple[BandStroke, ...]) -> tuple[BandStroke, ...]:
        return tuple(replace(stroke, span=stroke.span.shifted(by)) for stroke in line)

    return replace(
        bar,
        strums=tuple(replace(one, span=one.span.shifted(by)) for one in first.strums),
        bass=moved(first.bass),
        drums=moved(first.drums),
        comping=moved(first.comping),
    )
