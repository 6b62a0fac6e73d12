"""Where lines of music are broken, and how large they are.

Conventions: phrases begin lines, and no line is crowded. Widths of measures are millimetres at the
engraver's usual size (a staff 7.2 mm high), estimated from its output; they only decide how many
measures share a line. A *size* is a share of the usual one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from accomp.score.written import Event, Measure

LineRows = list[tuple[int, int]]  # the measures [first, last) of each line

EASY, SMALL = (0.92, 0.86, 0.8), (0.76, 0.72)  # a staff of 6.6, 6.2, 5.8 mm; of 5.5, 5.2 mm
_EDGE_MM = 5.0  # bar line and the space around it
_CLEF_MM = 20.0  # clef, key and meter at the start of a line
_CHORD_MM = 12.0  # the least room for a symbol with its box
_ACCIDENTAL_MM = 1.6
_TWO_DIGITS_MM = 4.2  # a number on TAB and a little of its line
_PHRASE, _LONG = 4, 8  # measures of the usual line, and of one that holds a whole eight
_CROWDED = 1.05  # share of the room that the measures of a long line may ask for


@dataclass(frozen=True, slots=True)
class Lines:
    """The size of a part, and the indices of the measures that begin its lines, 0 among them."""

    size: float
    starts: tuple[int, ...]


def ways_to_break(measures: Sequence[Measure], width_mm: float) -> tuple[Lines, ...]:
    """The ways in which lines `width_mm` wide can be broken, the one that reads best first.

    Lines of four measures come before lines of eight, sizes that are easy to read before small
    ones; among these the fewest lines, then the largest size.
    """
    found: dict[Lines, None] = {}
    for per_line in (_PHRASE, _LONG):
        for sizes in (EASY, SMALL):
            ways = [Lines(size, _starts(measures, width_mm / size, per_line)) for size in sizes]
            found |= dict.fromkeys(sorted(ways, key=lambda way: (len(way.starts), -way.size)))
    return tuple(found)


def _starts(measures: Sequence[Measure], width_mm: float, per_line: int) -> tuple[int, ...]:
    """The measures that begin lines of `per_line`, or fewer where so many have no room."""
    widths = [measure_mm(measure) for measure in measures]
    room = width_mm - _CLEF_MM
    pickup = 1 if measures[0].implicit else 0
    rows: LineRows = []
    for first, last in _sections(measures):
        at = first
        while at < last:
            more = pickup if at == 0 else 0  # the first line has the pickup besides
            end = min(last, at + per_line + more)
            if per_line == _LONG and 0 < last - end < _PHRASE:
                end = at + _PHRASE + more  # no line of one to three measures after one of eight
            rows += _halved((at, end), widths, room, per_line)
            at = end
    return tuple(first for first, _ in _without_orphans(rows, widths, room))


def _halved(row: tuple[int, int], widths: Sequence[float], room: float, per_line: int) -> LineRows:
    """A line, or its halves, quarters ... where its measures have no room in it."""
    first, last = row
    allowed = room * _CROWDED if per_line == _LONG else room
    if per_line == 1 or last - first < 2 or sum(widths[first:last]) <= allowed:
        return [row]
    count, half = last - first, per_line // 2
    if count >= per_line:
        middle = last - half  # the first half keeps the pickup
    else:
        middle = first + (half if count > half else (count + 1) // 2)
    return [
        *_halved((first, middle), widths, room, half),
        *_halved((middle, last), widths, room, half),
    ]


def measure_mm(measure: Measure) -> float:
    """The estimated width that a measure asks for."""
    if measure.rests or measure.events[0].whole_measure:
        notes = 12.0
    else:
        notes = sum(map(_event_mm, measure.events))
        notes += _ACCIDENTAL_MM * sum(
            any(note.accidental is not None for note in event.notes) for event in measure.events
        )
    return _EDGE_MM + max(notes, _CHORD_MM * len(measure.chords))


def _event_mm(event: Event) -> float:
    """The estimated width of an event: longer notes take more room, but by less than their length;
    TAB numbers of two digits must not touch."""
    least = _TWO_DIGITS_MM if any((note.fret or 0) > 9 for note in event.notes) else 0.0
    return max(least, 5.8 * math.pow(event.value.length * 4, 0.45))


def _sections(measures: Sequence[Measure]) -> LineRows:
    starts = [i for i, measure in enumerate(measures) if i == 0 or measure.rehearsal]
    if len(starts) > 1 and measures[0].implicit and starts[1] == 1:
        starts.remove(1)  # a pickup shares the line of the first section
    if len(starts) > 1 and starts[-1] == len(measures) - 1:
        starts.pop()  # a single last bar stays on the line before it
    return list(zip(starts, [*starts[1:], len(measures)], strict=True))


def _without_orphans(lines: LineRows, widths: Sequence[float], room: float) -> LineRows:
    """The same lines, with a short one joined to the line before it where both fit."""
    out: LineRows = []
    for first, last in lines:
        if out:
            before = out[-1]
            short = min(sum(widths[first:last]), sum(widths[before[0] : before[1]])) < room / 2.5
            if short and sum(widths[before[0] : last]) <= room * 1.08:
                out[-1] = (before[0], last)
                continue
        out.append((first, last))
    return out
