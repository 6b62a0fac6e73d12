"""One stroke of the right hand, as a style writes it, and its words in numbers.

Conventions: times are exact fractions of a whole note, counted from the start of the pattern;
velocities are MIDI's, 1 to 127; spreads are milliseconds from the first string of a strum to its
last. The numbers are choices of our own within what was measured: General MIDI sounds follow about
40·log10(velocity / 127) dB (the SoundFont 2.01 default, a concave curve of 96 dB squared), so that
an accent stands 7.6 dB over a light stroke and a heavy one 6.1 dB.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from accomp.time import Span


class StrokeDirection(StrEnum):
    """Which way the hand goes: down, towards the floor, or up."""

    DOWN = "down"
    UP = "up"

    @property
    def other(self) -> StrokeDirection:
        """The way back."""
        return StrokeDirection.UP if self == StrokeDirection.DOWN else StrokeDirection.DOWN


class ForceStep(StrEnum):
    """How hard, from the softest. An accent is marked on paper, the other steps are not."""

    GHOST = "ghost"
    LIGHT = "light"
    PLAIN = "plain"
    HEAVY = "heavy"
    ACCENT = "accent"


class StrokeSound(StrEnum):
    """How a stroke ends."""

    RING = "ring"  # until the string is struck again
    CHOKED = "choked"  # the fretting hand lets go right after it, so that open strings ring on
    HEEL = "heel"  # the heel of the right hand stops every string right after it
    DEAD = "dead"  # the fingers only rest on the strings, so that no pitch is heard


class Technique(StrEnum):
    """The movements of the hand in the stroke's time."""

    STROKE = "stroke"  # one movement
    SPLIT = "split"  # the first string on its place, the others half-way through the time
    TRIPLET = "triplet"  # three even movements: down, up, down
    ROLL = "roll"  # the strings one by one, slowly enough to be told apart
    TREMOLO = "tremolo"  # to and fro until the next stroke
    REST = "rest"  # no sound, and the heel of the hand stops what rings


FORCES = tuple(force.value for force in ForceStep)  # as words

_VELOCITY = dict(zip(ForceStep, (44, 66, 80, 94, 102), strict=True))
# Milliseconds across four strings at 120 beats a minute: a hard stroke goes through them faster.
_SPREAD_MS = dict(zip(ForceStep, (30.0, 26.0, 22.0, 17.0, 14.0), strict=True))
# Velocity that each further string loses: a soft stroke has less left for the last string.
_TAPER = dict(zip(ForceStep, (5, 4, 3, 2, 1), strict=True))


@dataclass(frozen=True, slots=True)
class Stroke:
    """A stroke: when, which way, which strings, how hard, and how it ends.

    `span` runs to where the next stroke (or the end of the pattern) comes: its written length.
    `strings` is a choice that is made on a shape when the stroke is arranged: "all", "low2" (the
    two highest-numbered sounding strings), "high3", "inner", "outer", "string1" ... `value` is the
    note value of a measured tremolo's strokes (a fraction of a whole note), None for an unmeasured
    one and for every other technique.
    """

    span: Span
    direction: StrokeDirection = StrokeDirection.DOWN
    strings: str = "all"
    force: ForceStep = ForceStep.PLAIN
    sound: StrokeSound = StrokeSound.RING
    technique: Technique = Technique.STROKE
    value: Fraction | None = None

    @property
    def start(self) -> Fraction:
        """Where the stroke falls."""
        return self.span.start


def velocity(force: ForceStep) -> int:
    """The MIDI velocity of a step of force."""
    return _VELOCITY[force]


def louder(force: ForceStep, steps: int) -> ForceStep:
    """The force `steps` steps harder (softer when negative), held between ghost and accent."""
    every = tuple(ForceStep)
    index = every.index(force) + steps
    return every[min(max(index, 0), len(every) - 1)]


def tapered(force: ForceStep, order: int, taper: float = 1.0) -> int:
    """Velocity of the string that a strum meets as its `order`-th, from 0.

    `taper` scales the loss from string to string: 0 for none.
    """
    return max(1, round(_VELOCITY[force] - taper * _TAPER[force] * order))


def spread_ms(force: ForceStep, tempo_bpm: float, strings: int, spread: float = 1.0) -> float:
    """Time from the first string of a strum to the last, in ms.

    It shrinks with the force and with the square root of the tempo, and grows with the number of
    `strings`; `spread` scales it (a style's own taste). One string has none.
    """
    pace = min(max(math.sqrt(120.0 / tempo_bpm), 0.6), 1.6)
    return spread * _SPREAD_MS[force] * pace * max(strings - 1, 0) / 3.0
