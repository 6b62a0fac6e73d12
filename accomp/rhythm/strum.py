"""One stroke as movements of the hand: which strings it meets, in which order, and how often.

Conventions: string indices as in a shape, 0 = the highest-numbered string (nearest the player's
chin), the last = the first string, nearest the floor. A down-stroke meets them in that order, an
up-stroke the other way, whatever their pitches are. Written time is in exact fractions of a whole
note, played time in seconds from the start of the stroke. Rates and times are common practice, no
published source.
"""

from __future__ import annotations

import re
from dataclasses import replace

from accomp.rhythm.stroke import ForceStep, Stroke, StrokeDirection, StrokeSound, Technique, louder
from accomp.time import Span

_CHOICE = re.compile(r"all|inner|outer|(low|high|string)([1-9])")
# The words as a reader of a style file meets them; any count from 1 to 9 may follow.
CHOICES = ("all", "inner", "outer", "low1", "low2", "low3", "high1", "high2", "high3", "string1")
# An unmeasured tremolo, strokes a second: about sixteenths at 180 beats a minute.
TREMOLO_RATE = 12.0
# A roll: from one string to the next, and the most of the stroke's time that it may take.
ROLL_MS = 55.0
ROLL_SHARE = 0.6


def is_choice(word: str) -> bool:
    """Whether a word names a choice of strings."""
    return _CHOICE.fullmatch(word) is not None


def choose_strings(
    choice: str,
    sounding: tuple[int, ...],
    direction: StrokeDirection,
    *,
    strings: int,
) -> tuple[int, ...]:
    """Indices that a stroke strikes, in the order in which it meets them.

    `sounding` are the indices of the strings that the shape sounds, rising; `strings` is how many
    the instrument has. "low2" are the two highest-numbered sounding strings, or all when there are
    fewer; "inner" leaves out the two outermost unless there are no others, "outer" strikes only
    those. "string1" is the first string of the instrument; when the shape does not sound it, the
    nearest sounding string stands in. Raises `ValueError` for a word that is no choice.
    """
    match = _CHOICE.fullmatch(choice)
    if match is None:
        raise ValueError(
            f"{choice!r} is not a choice of strings: expected one of {', '.join(CHOICES)}"
        )
    if not sounding:
        return ()
    kind, number = match[1], int(match[2] or 0)
    if choice == "all":
        chosen = sounding
    elif choice == "inner":
        chosen = sounding[1:-1] or sounding
    elif choice == "outer":
        chosen = (sounding[0], sounding[-1]) if len(sounding) > 1 else sounding
    elif kind == "low":
        chosen = sounding[:number]
    elif kind == "high":
        chosen = sounding[-number:]
    else:
        wanted = strings - number
        chosen = (min(sounding, key=lambda index: (abs(index - wanted), index)),)
    return chosen if direction == StrokeDirection.DOWN else chosen[::-1]


def written_strokes(
    stroke: Stroke, strings: tuple[int, ...]
) -> tuple[tuple[Stroke, tuple[int, ...]], ...]:
    """A stroke as it stands on paper, with the strings that each movement strikes.

    A split stroke is its first string, then the others half-way; a triplet three even strokes, the
    last two softer; a rest strikes nothing. Every other technique is one.
    """
    if stroke.technique == Technique.REST:
        return ((stroke, ()),)
    if stroke.technique == Technique.SPLIT:
        if len(strings) < 2:
            return ((replace(stroke, technique=Technique.STROKE), strings),)
        first, second = _shares(stroke.span, 2)
        low = replace(stroke, span=first, technique=Technique.STROKE, sound=StrokeSound.RING)
        high = replace(stroke, span=second, technique=Technique.STROKE)
        return ((low, strings[:1]), (high, strings[1:]))
    if stroke.technique == Technique.TRIPLET:
        movements = []
        direction = stroke.direction
        for index, span in enumerate(_shares(stroke.span, 3)):
            force = louder(stroke.force, -1) if index else stroke.force
            movement = replace(
                stroke, span=span, technique=Technique.STROKE, direction=direction, force=force
            )
            movements.append(
                (movement, strings if direction == stroke.direction else strings[::-1])
            )
            direction = direction.other
        return tuple(movements)
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


def tremolo_direction(first: StrokeDirection, index: int) -> StrokeDirection:
    """Which way the movement `index` (from 0) of a tremolo goes."""
    return first if index % 2 == 0 else first.other


def tremolo_force(force: ForceStep, index: int) -> ForceStep:
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
