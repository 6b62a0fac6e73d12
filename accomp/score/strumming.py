"""The right hand in a bar: a style's strokes on the shapes of the bar's chords.

Conventions: a stroke that would ring over a change is cut there. Every chord that is written in a
bar is heard in it: one that no sounding stroke of the pattern reaches gets a stroke of its own, in
stop-time one of the pattern's hits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from accomp.harmony import Chord
from accomp.rhythm.passage import Playing
from accomp.rhythm.pattern import Pattern
from accomp.rhythm.stroke import Stroke, StrokeDirection, StrokeSound, Technique, louder
from accomp.rhythm.strum import choose_strings, written_strokes
from accomp.score.arrangement import ArrangedBar, ChordChange, Strum
from accomp.score.low_strings import grounded, is_low, low_strings
from accomp.time import Span

_FOUR = 4  # strings


@dataclass
class _Turns:
    """The turns of the low strings, counted from the start of each chord, and over a bar line where
    the bar has at most one low stroke. Each section begins anew, so that it is the same each time.
    """

    chord: Chord | None = None
    count: int = 0
    in_bar: int = 0

    def bar(self, bar: ArrangedBar) -> None:
        """A new bar: counting goes on unless the bar before had several low strokes."""
        if bar.bar.opens:
            self.chord = None
        if self.in_bar > 1:
            self.count = 0
        self.in_bar = 0

    def next(self, change: ChordChange) -> int:
        """The turn of a low stroke under a chord."""
        if change.chord != self.chord:
            self.chord, self.count = change.chord, 0
        self.count += 1
        self.in_bar += 1
        return self.count - 1


def strum_bars(
    bars: Sequence[ArrangedBar], playing: Sequence[Playing], strings: int
) -> list[tuple[Strum, ...]]:
    """The strokes of every bar on an instrument of so many strings."""
    turns = _Turns()
    found = []
    before: Chord | None = None
    for bar, one in zip(bars, playing, strict=True):
        turns.bar(bar)
        found.append(tuple(_strums(bar, one, strings, turns, before)))
        before = bar.changes[-1].chord
    return found


def _strums(
    bar: ArrangedBar, playing: Playing, strings: int, turns: _Turns, before: Chord | None
) -> list[Strum]:
    """The strokes of one bar; `before` is the chord that it comes from."""
    pattern, turn = playing.strum
    if not pattern.strokes:
        return []
    to_pattern = turn - bar.bar.start
    strums: list[Strum] = []
    last = pattern.strokes[0]
    for change in bar.sounding():
        assert change.chord is not None, "N.C. does not sound"
        assert change.shape is not None, "a chord has a shape"
        span = change.span.shifted(to_pattern)
        strokes = list(pattern.during(span))
        hole = playing.stop_time and change.chord == before and not strokes
        before = change.chord
        if change.written and not hole:
            strokes = _heard(strokes, span, pattern, playing.stop_time, last)
        for stroke in strokes:
            last = stroke
            for single, struck in written_strokes(
                stroke, _struck(stroke, change, bar, strings, turns)
            ):
                strums.append(
                    Strum(
                        span=single.span.shifted(-to_pattern),
                        shape=change.shape,
                        chord=change.chord,
                        strings=struck,
                        direction=single.direction,
                        force=louder(single.force, playing.louder),
                        sound=single.sound,
                        technique=single.technique,
                        value=single.value,
                    )
                )
    return strums


def _heard(
    strokes: list[Stroke], span: Span, pattern: Pattern, stop_time: bool, last: Stroke
) -> list[Stroke]:
    """The strokes under a written chord, at least one of which sounds it. Where all of them only
    rest or click, or there are none, one is put first. It is like the `last` stroke, in stop-time
    like the pattern's first. A pattern that only clicks keeps its strokes as they are."""
    sounding = [stroke for stroke in pattern.strokes if _sounds(stroke)]
    if any(map(_sounds, strokes)) or (strokes and not sounding):
        return strokes
    like = pattern.strokes[0] if stop_time else last
    if sounding and not _sounds(like):
        like = sounding[0]
    hit = replace(like, span=span, strings="all", technique=Technique.STROKE, value=None)
    if not strokes:
        return [hit]
    first, *others = strokes
    if first.start > span.start and first.technique == Technique.REST:
        return [replace(hit, span=Span(span.start, first.start)), first, *others]
    return [replace(hit, span=first.span), *others]


def _sounds(stroke: Stroke) -> bool:
    return stroke.technique != Technique.REST and stroke.sound != StrokeSound.DEAD


def _struck(
    stroke: Stroke, change: ChordChange, bar: ArrangedBar, strings: int, turns: _Turns
) -> tuple[int, ...]:
    """The strings of a stroke in the order in which the plectrum meets them."""
    chord, shape = change.chord, change.shape
    assert chord is not None
    assert shape is not None
    sounding = tuple(i for i, fret in enumerate(shape.frets) if fret is not None)
    if strings > _FOUR and bar.style.bass is None:
        sounding = grounded(chord, shape, sounding)
    if is_low(stroke.strings) and sounding:
        chosen = low_strings(stroke.strings, chord, shape, sounding, turns.next(change))
        return chosen if stroke.direction == StrokeDirection.DOWN else chosen[::-1]
    if stroke.technique == Technique.SPLIT and stroke.strings == "all" and len(sounding) > 2:
        return grounded(chord, shape, sounding)
    return choose_strings(stroke.strings, sounding, stroke.direction, strings=strings)
