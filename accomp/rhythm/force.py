"""How hard: steps of force, their velocities, the taper and the spread of a strum.

Conventions: velocities are MIDI's, 1 to 127; spreads are milliseconds from the first string of a
strum to its last. The numbers are choices of our own within what was measured: General MIDI sounds
follow about 40·log10(velocity / 127) dB (the SoundFont 2.01 default, a concave curve of 96 dB
squared), so that an accent stands 7.6 dB over a light stroke and a heavy one 6.1 dB.
"""

from __future__ import annotations

import math

# From the softest to the hardest. An accent is marked on paper, the other steps are not.
_VELOCITY = {"ghost": 44, "light": 66, "plain": 80, "heavy": 94, "accent": 102}
FORCES: tuple[str, ...] = tuple(_VELOCITY)

# Milliseconds across four strings at 120 beats a minute: a hard stroke goes through them faster.
_SPREAD_MS = {"ghost": 30.0, "light": 26.0, "plain": 22.0, "heavy": 17.0, "accent": 14.0}

# Velocity that each further string loses: a soft stroke has less left for the last string.
_TAPER = {"ghost": 5, "light": 4, "plain": 3, "heavy": 2, "accent": 1}


def velocity(force: str) -> int:
    """The MIDI velocity of a step of force."""
    return _VELOCITY[force]


def louder(force: str, steps: int) -> str:
    """The force `steps` steps harder (softer when negative), held between ghost and accent."""
    return FORCES[min(max(FORCES.index(force) + steps, 0), len(FORCES) - 1)]


def tapered(force: str, place: int, taper: float = 1.0) -> int:
    """Velocity of the string that a strum meets as its `place`-th, from 0.

    `taper` scales the loss from string to string: 0 for none.
    """
    return max(1, round(_VELOCITY[force] - taper * _TAPER[force] * place))


def spread_ms(force: str, tempo_bpm: float, strings: int, spread: float = 1.0) -> float:
    """Time from the first string of a strum to the last, in ms.

    It shrinks with the force and with the square root of the tempo, and grows with the number of
    `strings`; `spread` scales it (a style's own taste). One string has none.
    """
    pace = min(max(math.sqrt(120.0 / tempo_bpm), 0.6), 1.6)
    return spread * _SPREAD_MS[force] * pace * max(strings - 1, 0) / 3.0
