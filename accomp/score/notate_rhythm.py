"""From spans to written events: rests, ties, tuplets and beams of one bar.

Conventions: spans are half-open, in fractions of a whole note from the bar line, in order, without
overlap. Between them is silence.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import lcm

from accomp.rhythm.stroke import StrokeDirection
from accomp.score.notate_values import (
    ValuePiece,
    beamed,
    note_pieces,
    plain_value,
    rest_pieces,
    tuplet_pieces,
)
from accomp.score.written import Event, Mark, NoteValue, WrittenNote
from accomp.time import Meter, Span


@dataclass(frozen=True, slots=True)
class Sounding:
    """A sound to be written: noteheads over a span, and the signs of the stroke itself.

    `tied_from` and `tied_to` say that it began before, or goes on after, the bar. A `short` sound
    is not tied on: it is written up to the end of its beat at most, and silence follows. `tremolo`
    is the value of the strokes that the note is divided into.
    """

    span: Span
    notes: tuple[WrittenNote, ...]
    direction: StrokeDirection | None = None
    marks: frozenset[Mark] = frozenset()
    tied_from: bool = False
    tied_to: bool = False
    short: bool = False
    tremolo: Fraction | None = None


@dataclass(frozen=True, slots=True)
class _Cell:
    """A stretch of the bar that one tuplet (actual, normal) fills."""

    span: Span
    tuplet: tuple[int, int]


_ROUND = Fraction(1, 32)
_LEAST_NUMBER = 3  # of a tuplet


def written_bar(
    meter: Meter, bar: Span, sounds: Sequence[Sounding], cuts: Iterable[Fraction] = ()
) -> tuple[Event, ...]:
    """The events of a bar; `bar` is (0, meter.bar), or the last part of it for a pickup.

    `cuts` are moments at which a rest is split so that something can stand over it. Events count
    from the start of `bar`. The values are exact; only a rhythm that no values down to a 128th
    show (fives against threes inside one beat) is written to the nearest 32nd.
    """
    cuts = tuple(cuts)
    try:
        return _exact_bar(meter, bar, sounds, cuts)
    except ValueError:
        return _exact_bar(meter, bar, list(_rounded(sounds)), cuts)


def _rounded(sounds: Sequence[Sounding]) -> Iterator[Sounding]:
    """The sounds with their edges at the nearest 32nd; one without length is left out."""
    for sound in sounds:
        start, end = (round(edge / _ROUND) * _ROUND for edge in (sound.span.start, sound.span.end))
        if start < end:
            yield replace(sound, span=Span(start, end))


def _exact_bar(
    meter: Meter, bar: Span, sounds: Sequence[Sounding], cuts: tuple[Fraction, ...]
) -> tuple[Event, ...]:
    """The events with exact values. Raises `ValueError` for a span that no note values show."""
    if not sounds and bar.duration == meter.bar and not any(bar.start < cut for cut in cuts):
        return (Event(Fraction(0), NoteValue(Fraction(1)), whole_measure=True),)
    sounds = [_shortened(meter, sound) for sound in sounds]
    cells = _cells(meter, bar, [*_late_start(meter, bar), *sounds])
    events: list[Event] = []
    now = bar.start
    for sound in sounds:
        events += _rests(meter, Span(now, sound.span.start), cells, cuts)
        events += _notes(meter, sound, cells)
        now = sound.span.end
    events += _rests(meter, Span(now, bar.end), cells, cuts)
    shifted = [replace(event, start=event.start - bar.start) for event in beamed(meter, events)]
    return tuple(_bracketed(shifted, cells, bar.start) if cells else shifted)


def _late_start(meter: Meter, bar: Span) -> Iterator[Sounding]:
    """The silence up to the next beat, where a pickup begins within a triplet."""
    if _odd_part(bar.start) > 1:
        width = _cell_width(meter)
        yield Sounding(Span(bar.start, (bar.start // width + 1) * width), ())


def _cell_width(meter: Meter) -> Fraction:
    """The length that a tuplet divides: a beat, in compound meters each of its three parts."""
    return meter.unit if meter.compound else meter.beat


def _shortened(meter: Meter, sound: Sounding) -> Sounding:
    if not sound.short:
        return sound
    start = sound.span.start
    beat_end = (start // meter.beat + 1) * meter.beat
    end = min(sound.span.end, beat_end)
    if _odd_part(start) == _odd_part(end) == 1 and plain_value(end - start) is None:
        end = note_pieces(meter, start, end)[0][1]
    return replace(sound, span=Span(start, end), tied_to=False)


def _notes(meter: Meter, sound: Sounding, cells: Sequence[_Cell]) -> list[Event]:
    pieces: list[ValuePiece] = []
    for span, cell in _by_cell(sound.span, cells):
        if cell is None:
            pieces += note_pieces(meter, span.start, span.end)
        else:
            pieces += tuplet_pieces(cell.span.start, cell.tuplet, span.start, span.end)
    last = len(pieces) - 1
    return [
        Event(
            start=start,
            value=value,
            notes=sound.notes,
            tied_from=sound.tied_from or i > 0,
            tied_to=sound.tied_to or i < last,
            direction=sound.direction if i == 0 else None,
            marks=sound.marks if i == 0 else sound.marks & {Mark.DEAD},
            tremolo=_slashes(sound.tremolo, value),
        )
        for i, (start, _, value) in enumerate(pieces)
    ]


def _slashes(tremolo: Fraction | None, value: NoteValue) -> int:
    """Strokes through the stem: one for eighths, two for sixteenths, less the note's own flags."""
    if tremolo is None:
        return 0
    strokes = (tremolo.denominator // 4).bit_length() - 1
    flags = max(0, (value.length.denominator // 4).bit_length() - 1)
    return max(1, strokes - flags)


def _rests(
    meter: Meter, gap: Span, cells: Sequence[_Cell], cuts: Iterable[Fraction]
) -> list[Event]:
    events = []
    edges = [gap.start, *sorted(cut for cut in cuts if gap.start < cut < gap.end), gap.end]
    for start, end in itertools.pairwise(edges):
        for span, cell in _by_cell(Span(start, end), cells):
            pieces = (
                rest_pieces(meter, span.start, span.end)
                if cell is None
                else tuplet_pieces(cell.span.start, cell.tuplet, span.start, span.end)
            )
            events += [Event(begin, value) for begin, _, value in pieces]
    return events


def _by_cell(span: Span, cells: Sequence[_Cell]) -> list[tuple[Span, _Cell | None]]:
    """`span` cut at the edges of tuplets, each part with the tuplet it lies in."""
    parts: list[tuple[Span, _Cell | None]] = []
    now = span.start
    for cell in cells:
        inside = span.cut(cell.span)
        if inside is None:
            continue
        parts += [(Span(now, inside.start), None), (inside, cell)]  # the first may be of no length
        now = inside.end
    return [*parts, (Span(now, span.end), None)]


def _cells(meter: Meter, bar: Span, sounds: Sequence[Sounding]) -> list[_Cell]:
    """The tuplets in order: beats with odd divisions, halved again where no figure crosses the
    middle.

    A figure takes in beats before and after it where that makes its number less: three equal notes
    over a whole bar are three in the time of two, though no odd division falls into the first beat.
    """
    edges = {edge for sound in sounds for edge in (sound.span.start, sound.span.end)}
    odd = sorted(edge for edge in edges if _odd_part(edge) > 1)
    if not odd:
        return []
    cells: list[_Cell] = []
    width = _cell_width(meter)
    now = first = bar.start // width * width
    while now < bar.end:
        end = now + width
        if any(now < edge < end for edge in odd):
            while end < bar.end and _crossed(end, sounds):
                end += width  # a figure over several beats, as three in the time of two beats
            figure = Span(now, end)
            found = _divided(figure, odd, sounds)
            if _number(found) > _LEAST_NUMBER:
                whole = [
                    one
                    for one in _around(figure, Span(first, bar.end), width)
                    if not (_crossed(one.start, sounds) or _crossed(one.end, sounds))
                ]
                ways = [(figure, found), *((one, _divided(one, odd, sounds)) for one in whole)]
                # Of equal numbers the shortest figure, which comes first.
                figure, found = min(ways, key=lambda way: _number(way[1]))
                end = figure.end
            cells += found
            first = end
        now = end
    return cells


def _number(cells: Sequence[_Cell]) -> int:
    """The greatest number of a tuplet."""
    return max(cell.tuplet[0] for cell in cells)


def _around(span: Span, room: Span, width: Fraction) -> list[Span]:
    """`span` and all longer spans around it inside `room`, by steps of `width`, shortest first."""
    before = range(int((span.start - room.start) / width) + 1)
    after = range(max(0, int((room.end - span.end) / width)) + 1)
    spans = [Span(span.start - a * width, span.end + b * width) for a in before for b in after]
    return sorted(spans, key=lambda one: one.duration)


def _divided(span: Span, odd: Sequence[Fraction], sounds: Sequence[Sounding]) -> list[_Cell]:
    inside = [edge for edge in odd if span.start < edge < span.end]
    if not inside:
        return []
    middle = (span.start + span.end) / 2
    if not _crossed(middle, sounds):
        first, second = Span(span.start, middle), Span(middle, span.end)
        return _divided(first, odd, sounds) + _divided(second, odd, sounds)
    actual = lcm(*(_odd_part((edge - span.start) / span.duration) for edge in inside))
    normal = 1 << (actual.bit_length() - 1)
    return [_Cell(span, (actual, normal))]


def _crossed(moment: Fraction, sounds: Sequence[Sounding]) -> bool:
    """Whether a sound that begins or ends off the halvings goes on through `moment`."""
    return any(
        sound.span.start < moment < sound.span.end
        and max(_odd_part(sound.span.start), _odd_part(sound.span.end)) > 1
        for sound in sounds
    )


def _odd_part(number: Fraction) -> int:
    """The greatest odd divisor of the denominator: 1 where halving a whole note leads to it."""
    whole = number.denominator
    return whole // (whole & -whole)


def _bracketed(events: list[Event], cells: Sequence[_Cell], shift: Fraction) -> list[Event]:
    """The same events with the ends of every tuplet marked."""
    for cell in cells:
        inside = [i for i, event in enumerate(events) if event.start + shift in cell.span]
        if len(inside) == 1:  # all that a pickup has of a triplet
            events[inside[0]] = replace(events[inside[0]], bracket="start+stop")
            continue
        events[inside[0]] = replace(events[inside[0]], bracket="start")
        events[inside[-1]] = replace(events[inside[-1]], bracket="stop")
    return events
