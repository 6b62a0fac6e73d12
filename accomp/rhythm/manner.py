"""What one stroke of the style is in movements of the hand.

Conventions: written time in exact fractions of a whole note; played time in seconds from the start
of the stroke. Strings are indices in the order met (see `accomp.rhythm.strum`). The rates and times
are common practice, no published source.
"""

from __future__ import annotations

from dataclasses import replace

from accomp.rhythm.force import louder
from accomp.rhythm.stroke import Stroke
from accomp.time import Span

# An unmeasured tremolo, strokes a second: about sixteenths at 180 beats a minute.
TREMOLO_RATE = 12.0
# A roll: from one string to the next, and the most of the stroke's time that it may take.
ROLL_MS = 55.0
ROLL_SHARE = 0.6

_OTHER = {"down": "up", "up": "down"}


def written_strokes(
    stroke: Stroke, strings: tuple[int, ...]
) -> tuple[tuple[Stroke, tuple[int, ...]], ...]:
    """A stroke as it stands on paper, with the strings that each movement strikes.

    A split stroke is its first string, then the others half-way; a triplet three even strokes, the
    last two softer; a rest strikes nothing. Every other manner is one.
    """
    if stroke.manner == "rest":
        return ((stroke, ()),)
    if stroke.manner == "split":
        if len(strings) < 2:
            return ((replace(stroke, manner="stroke"), strings),)
        first, second = _shares(stroke.span, 2)
        low = replace(stroke, span=first, manner="stroke", sound="ring")
        high = replace(stroke, span=second, manner="stroke")
        return ((low, strings[:1]), (high, strings[1:]))
    if stroke.manner == "triplet":
        parts = []
        direction = stroke.direction
        for index, span in enumerate(_shares(stroke.span, 3)):
            force = louder(stroke.force, -1) if index else stroke.force
            part = replace(stroke, span=span, manner="stroke", direction=direction, force=force)
            parts.append((part, strings if direction == stroke.direction else strings[::-1]))
            direction = _OTHER[direction]
        return tuple(parts)
    return ((stroke, strings),)


def tremolo_starts_s(length_s: float, value_s: float | None) -> tuple[float, ...]:
    """When the movements of a tremolo of `length_s` seconds begin, the first at 0.

    A measured one moves every `value_s` seconds; an unmeasured one fills the time evenly at about
    `TREMOLO_RATE` strokes a second.
    """
    if value_s is None:
        number = max(1, round(length_s * TREMOLO_RATE))
        value_s = length_s / number
    else:
        number = max(1, int(length_s / value_s + 0.5))
    return tuple(value_s * index for index in range(number))


def tremolo_direction(first: str, index: int) -> str:
    """Which way the movement `index` (from 0) of a tremolo goes."""
    return first if index % 2 == 0 else _OTHER[first]


def tremolo_force(force: str, index: int) -> str:
    """How hard: the first as written, the others a step softer."""
    return louder(force, -1) if index else force


def roll_ms(length_ms: float, strings: int) -> float:
    """Time from the first string of a roll to the last, in ms."""
    return min(ROLL_MS * max(strings - 1, 0), ROLL_SHARE * length_ms)


def _shares(span: Span, number: int) -> tuple[Span, ...]:
    step = span.duration / number
    return tuple(
        Span(span.start + step * index, span.start + step * (index + 1)) for index in range(number)
    )
