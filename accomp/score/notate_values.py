"""Which note values show a length of time, where they are split, and which hang on one beam.

Conventions: positions are fractions of a whole note from the bar line. A note may cross a beat only
when it starts on one, and the middle of a 4/4 or 12/8 bar only when it starts at the bar line; one
that starts between beats is tied at the next beat. In compound meters a note that crosses a beat
fills whole beats. Rests are stricter: plain values on their own grid, so that each beat is seen.

The first beam joins eighths, the second sixteenths, and so on. Beams follow the beat that tempo and
count-in use (threes in compound meters); where that beat is longer than a quarter, the inner beams
break at each quarter (three eighths in a dotted half), so that the eye can count. Common practice,
no one source.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from accomp.score.written import Beam, Event, NoteValue
from accomp.time import Meter

# Inner limits that long notes respect: halves of the bar, and 3 + 2 in five.
_GROUPS: dict[str, tuple[Fraction, ...]] = {
    "4/4": (Fraction(1, 2),),
    "12/8": (Fraction(3, 4),),
    "5/4": (Fraction(3, 4),),
}
_SHORTEST = Fraction(1, 128)

ValuePiece = tuple[Fraction, Fraction, NoteValue]


def plain_value(length: Fraction) -> NoteValue | None:
    """The plain or once-dotted value that lasts `length`, None where there is none."""
    if length.denominator & (length.denominator - 1) or length < _SHORTEST:
        return None
    if length.numerator in {1, 2}:
        return NoteValue(length)
    if length.numerator == 3:
        return NoteValue(length * Fraction(2, 3), dots=1)
    return None


@lru_cache(maxsize=4096)
def note_pieces(meter: Meter, start: Fraction, end: Fraction) -> tuple[ValuePiece, ...]:
    """The values, to be tied, that show a note from `start` to `end` in a bar of `meter`."""
    return _pieces(_longest_note, meter, start, end)


def _pieces(
    longest: Callable[[Meter, Fraction, Fraction], tuple[Fraction, NoteValue]],
    meter: Meter,
    start: Fraction,
    end: Fraction,
) -> tuple[ValuePiece, ...]:
    pieces = []
    while start < end:
        stop, value = longest(meter, start, end)
        pieces.append((start, stop, value))
        start = stop
    return tuple(pieces)


def _longest_note(meter: Meter, start: Fraction, end: Fraction) -> tuple[Fraction, NoteValue]:
    beat, on_beat = meter.beat, start % meter.beat == 0
    limit = _group_end(meter, start) if on_beat else (start // beat + 1) * beat
    stop = min(end, limit)
    crosses = stop - start > beat
    value = plain_value(stop - start)
    if value and not (crosses and meter.compound and (stop - start) % beat):
        return stop, value
    if crosses:
        for count in range(int((stop - start) / beat), 0, -1):
            value = plain_value(count * beat)
            if value:
                return start + count * beat, value
    return _inside_beat(start % beat, stop - start, start)


def _inside_beat(offset: Fraction, length: Fraction, start: Fraction) -> tuple[Fraction, NoteValue]:
    """The first piece of a length that no value shows: up to the coarsest grid line inside it."""
    grid = Fraction(1)
    while grid >= _SHORTEST:
        stop = (offset // grid + 1) * grid - offset
        value = plain_value(stop) if stop < length else None
        if value:
            return start + stop, value
        grid /= 2
    raise ValueError(f"no note values show {length} of a whole note at {start}")


def _group_end(meter: Meter, start: Fraction) -> Fraction:
    limits = (*_GROUPS.get(str(meter), ()), meter.bar)
    if start == 0 and str(meter) != "5/4":
        return meter.bar
    return next(limit for limit in limits if limit > start)


@lru_cache(maxsize=4096)
def rest_pieces(meter: Meter, start: Fraction, end: Fraction) -> tuple[ValuePiece, ...]:
    """The values that show a silence from `start` to `end` in a bar of `meter`."""
    return _pieces(_longest_rest, meter, start, end)


def _longest_rest(meter: Meter, start: Fraction, end: Fraction) -> tuple[Fraction, NoteValue]:
    half = meter.bar / 2
    if str(meter) in {"4/4", "12/8"} and start in (0, half) and end >= start + half:
        value = plain_value(half)
        assert value is not None, "the half of these bars is a plain value"
        return start + half, value
    beat_start = start // meter.beat * meter.beat
    stop = min(end, _group_end(meter, start), beat_start + meter.beat)
    if meter.compound and stop - start == meter.beat:
        return stop, NoteValue(meter.beat * Fraction(2, 3), dots=1)
    length = Fraction(1)
    while length >= _SHORTEST:
        if start + length <= stop and (start - beat_start) % length == 0:
            return start + length, NoteValue(length)
        length /= 2
    raise ValueError(f"no rests show {end - start} of a whole note at {start}")


@lru_cache(maxsize=4096)
def tuplet_pieces(
    cell: Fraction, tuplet: tuple[int, int], start: Fraction, end: Fraction
) -> tuple[ValuePiece, ...]:
    """Values inside a tuplet that begins at `cell`: notes and rests alike."""
    actual, normal = tuplet
    pieces = []
    while start < end:
        length = (end - start) * actual / normal
        value = plain_value(length)
        if value is None:
            stop, value = _inside_beat((start - cell) * actual / normal, length, Fraction(0))
            length = stop
        stop = start + length * normal / actual
        pieces.append((start, stop, NoteValue(value.length, value.dots, tuplet)))
        start = stop
    return tuple(pieces)


_QUARTER = Fraction(1, 4)


def beamed(meter: Meter, events: Sequence[Event]) -> list[Event]:
    """The same events, whose starts count from the bar line, with their beams."""
    out = list(events)
    group: list[int] = []
    for i, event in enumerate(events):
        flags = _flags(event)
        if group and (not flags or event.start // meter.beat != out[group[0]].start // meter.beat):
            _join(meter, out, group)
            group = []
        if flags:
            group.append(i)
    _join(meter, out, group)
    return out


def _flags(event: Event) -> int:
    """How many beams or flags a note has; 0 for a rest and from the quarter up."""
    if not event.notes or event.value.length >= _QUARTER:
        return 0
    return (event.value.length.denominator // 4).bit_length() - 1


def _join(meter: Meter, events: list[Event], group: Sequence[int]) -> None:
    if len(group) < 2:
        return
    levels = [_flags(events[i]) for i in group]
    inner = _QUARTER if meter.beat in {Fraction(1, 2), Fraction(3, 4)} else meter.beat
    beams: list[list[Beam]] = [[] for _ in group]
    for level in range(1, max(levels) + 1):
        for run in _runs(events, group, levels, level, inner if level > 1 else meter.bar):
            if len(run) == 1:
                last = run[0] == len(group) - 1 or (
                    run[0] > 0 and levels[run[0] - 1] >= levels[run[0] + 1]
                )
                beams[run[0]].append("backward hook" if last and run[0] > 0 else "forward hook")
                continue
            for index in run:
                beams[index].append(
                    "begin" if index == run[0] else "end" if index == run[-1] else "continue"
                )
    for i, names in zip(group, beams, strict=True):
        events[i] = replace(events[i], beams=tuple(names))


def _runs(
    events: Sequence[Event],
    group: Sequence[int],
    levels: Sequence[int],
    level: int,
    unit: Fraction,
) -> list[list[int]]:
    """Places in the group that share a beam of this level, broken at every `unit`."""
    runs: list[list[int]] = []
    for index, i in enumerate(group):
        if levels[index] < level:
            continue
        joined = (
            runs
            and runs[-1][-1] == index - 1
            and events[i].start // unit == events[group[index - 1]].start // unit
        )
        if joined:
            runs[-1].append(index)
        else:
            runs.append([index])
    return runs
