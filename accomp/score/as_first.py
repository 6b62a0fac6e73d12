"""What is printed of several times through: each written bar as it is played the first time.

Conventions: bars are the same when they are written in the same place (`accomp.tune.Spot`). On
paper a band's part is one part: where the right hand makes the same strokes over the same chords
every time, however hard, later times are printed as the first one, with the bass and all. The very
last bar may be struck otherwise, and stays as it is.
"""

from __future__ import annotations

from dataclasses import replace

from accomp.harmony import Chord
from accomp.rhythm.stroke import ForceStep
from accomp.score.arrangement import ArrangedBar, Arrangement, BandStroke, Strum
from accomp.tune import Spot

Struck = tuple[list[Chord | None], list[Strum]]


def every_time_as_the_first(arrangement: Arrangement) -> Arrangement:
    """The arrangement as it is printed; unchanged where the right hand does not do the same."""
    firsts: dict[Spot, ArrangedBar] = {}
    bars = []
    last = arrangement.bars[-1]
    for bar in arrangement.bars:
        first = firsts.setdefault(bar.bar.spot, bar) if not bar.added else bar
        same = _struck(bar) == _struck(first)
        if not same and bar is not last:
            return arrangement
        bars.append(_as(first, bar) if same and first is not bar else bar)
    return replace(arrangement, bars=tuple(bars))


def _struck(bar: ArrangedBar) -> Struck:
    """Chords and strokes of a bar, from its bar line, all equally hard."""
    strums = [
        replace(strum, span=strum.span.shifted(-bar.span.start), force=ForceStep.PLAIN)
        for strum in bar.strums
    ]
    return [change.chord for change in bar.changes], strums


def _as(first: ArrangedBar, bar: ArrangedBar) -> ArrangedBar:
    """`bar` with what everybody plays in `first`."""
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
