"""An instrument's body as the bridge and the microphone see it: mobilities and radiated sound.

Conventions: SI units. The bridge's feet move together (heave, driven by a force) or against one
another (rock, driven by a moment about the line of the strings). A mobility is velocity over force,
or angular velocity over moment, in the Laplace plane; a sound is pressure over force or moment.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, fields

import numpy as np

from accomp.voice.laplace import Complexes, mode_mobility
from accomp.voice.numerics import splined
from accomp.voice.parameters import BodyMode, Microphone

SOUND_SPEED = 343.0  # m/s at 20 °C
AIR_DENSITY = 1.2  # kg/m³
AIR_VISCOSITY = 1.5e-5  # kinematic, m²/s
MICROPHONE_M = 1.0


@dataclass(frozen=True)
class Face:
    """A body's responses over s; `knock_sound` is pressure over the force of a tap on the face."""

    heave_mobility: Complexes
    rock_mobility: Complexes
    heave_sound: Complexes
    rock_sound: Complexes
    knock_sound: Complexes

    def between(self, coarse: Complexes, fine: Complexes) -> Face:
        """The same body on a finer grid of the same line.

        A body rings far shorter than a string, so the coarse grid resolves it. The interpolation
        is by cubic splines: linear interpolation would add an echo, whose delay is the inverse of
        the coarse grid's step in hertz.
        """
        values = np.stack([getattr(self, field.name) for field in fields(self)])
        return Face(*splined(coarse.imag, values, fine.imag))

    def plus(self, sums: Complexes) -> Face:
        """This face with more modes added: `sums` has one row for each field, in their order."""
        own = (getattr(self, each.name) for each in fields(self))
        return Face(*(one + more for one, more in zip(own, sums, strict=True)))

    def lifted(self, s: Complexes, microphone: Microphone) -> Face:
        """This face with the treble of its sounds lifted by a first-order shelf.

        Woodhouse, Politzer & Mansour (2021) also found the sound of their model too dark, and
        brightened it.
        """
        low = 2.0 * math.pi * microphone.presence_hz
        shelf = (1.0 + s / low) / (1.0 + s / (low * 10.0 ** (microphone.presence_db / 20.0)))
        return Face(
            self.heave_mobility,
            self.rock_mobility,
            self.heave_sound * shelf,
            self.rock_sound * shelf,
            self.knock_sound * shelf,
        )


def modal(s: Complexes, modes: Iterable[BodyMode], foot_mm: float) -> Complexes:
    """The sums of modes for each field of a face, in their order: shape (5, size of s). A mode
    radiates through its volume velocity U, p = ρ·s·U/(2πR).
    """
    monopole = AIR_DENSITY * s / (2.0 * math.pi * MICROPHONE_M)
    sums = np.zeros((5, s.size), np.complex128)
    for mode in modes:
        swing = mode_mobility(s, mode.mass_g / 1e3, 2.0 * math.pi * mode.hz, mode.loss)
        heard = mode.area_cm2 / 1e4 * swing * monopole
        turn = mode.rock / (foot_mm / 1e3)
        sums[0] += mode.heave**2 * swing
        sums[1] += turn**2 * swing
        sums[2] += mode.heave * heard
        sums[3] += turn * heard
        sums[4] += 0.5 * heard
    return sums
