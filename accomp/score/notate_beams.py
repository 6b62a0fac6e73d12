"""Beams: short notes of one beat hang together.

Conventions: the first beam joins eighths, the second sixteenths, and so on. Beams follow the beat
that tempo and count-in use (threes in compound meters); where that beat is longer than a quarter,
the inner beams break at each quarter (three eighths in a dotted half), so that the eye can count.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from accomp.score.written import Event
from accomp.time import Meter

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
    beams: list[list[str]] = [[] for _ in group]
    for level in range(1, max(levels) + 1):
        for run in _runs(events, group, levels, level, inner if level > 1 else meter.bar):
            if len(run) == 1:
                last = run[0] == len(group) - 1 or (
                    run[0] > 0 and levels[run[0] - 1] >= levels[run[0] + 1]
                )
                beams[run[0]].append("backward hook" if last and run[0] > 0 else "forward hook")
                continue
            for place in run:
                beams[place].append(
                    "begin" if place == run[0] else "end" if place == run[-1] else "continue"
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
    for place, i in enumerate(group):
        if levels[place] < level:
            continue
        joined = (
            runs
            and runs[-1][-1] == place - 1
            and events[i].start // unit == events[group[place - 1]].start // unit
        )
        if joined:
            runs[-1].append(place)
        else:
            runs.append([place])
    return runs
