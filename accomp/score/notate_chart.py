"""The chords alone, folded: what a chord chart shows.

Conventions: measures have no notes. Where all times through have the same chords, the form is shown
once, with the bars before and after it, and the writer says how often it is played. Else the form
is shown with endings and jumps, as in the part.
"""

from __future__ import annotations

from accomp.score.arrangement import ArrangedBar, Arrangement
from accomp.score.notate_blocks import blocks_of
from accomp.score.notate_layout import read_at, reading_interval
from accomp.score.notate_road import folded
from accomp.score.readers import Reader
from accomp.score.written import Barline, ChordMark, Measure
from accomp.tune import Stage


def chart_measures(
    arrangement: Arrangement, reader: Reader, *, fold: bool = True
) -> tuple[Measure, ...]:
    """The measures of a chart for a reader; without `fold` as they are played."""
    bars = _once(arrangement.bars)
    columns = [(_measure(bar, reader),) for bar in bars]
    if not fold:
        return tuple(column[0] for column in columns)
    # "3 x through" stands beside a form that is shown once; a jump would contradict it.
    once = len(bars) < len(arrangement.bars)
    return tuple(column[0] for column in folded(columns, blocks_of(bars), jumps=not once))


def times_through(arrangement: Arrangement) -> int:
    """How often the form is played."""
    return max((bar.bar.chorus for bar in arrangement.bars), default=1)


def _once(bars: tuple[ArrangedBar, ...]) -> tuple[ArrangedBar, ...]:
    """The bars without later times through that have the same chords as the first."""
    form = [bar for bar in bars if of_form(bar)]
    choruses: dict[int, list[object]] = {}
    for bar in form:
        choruses.setdefault(bar.bar.chorus, []).append(_chords(bar))
    first, *others = choruses.values() if choruses else [[]]
    if any(other != first for other in others):
        return bars
    return tuple(bar for bar in bars if bar.bar.chorus == 1 or not of_form(bar))


def of_form(bar: ArrangedBar) -> bool:
    """Whether a bar belongs to the form, and is not an intro, a coda or an added bar."""
    return not bar.added and bar.bar.spot.stage == Stage.CHORUS


def _chords(bar: ArrangedBar) -> object:
    start, meter = bar.bar.start, bar.bar.meter
    return meter, [(c.span.shifted(-start), c.chord, c.written) for c in bar.changes]


def _measure(bar: ArrangedBar, reader: Reader) -> Measure:
    start = bar.bar.start
    marks = tuple(
        ChordMark(change.span.start - start, change.chord, None)
        for change in bar.changes
        if change.written
    )
    measure = Measure(
        number=bar.bar.number,
        length=bar.bar.meter.bar,
        meter=bar.bar.meter,
        key=bar.bar.key,
        events=(),
        chords=marks,
        rehearsal=bar.bar.section if bar.bar.opens else "",
        added=bar.added,
        barline=Barline.REGULAR,
    )
    return read_at(measure, reading_interval(reader, bar.bar.key), 0)
