"""What bridge and microphone know of an instrument's body, whatever it is made of.

Conventions: SI units. The bridge's feet move together (heave, a force) or against one another
(rock, a moment about the line of the strings). A mobility is velocity over force, or angular
velocity over moment, in the Laplace plane; a sound is pressure over force or over moment.
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
    """A body over s; `knock_sound` is the pressure for a tap on the face beside the strings."""

    heave_mobility: Complexes
    rock_mobility: Complexes
    heave_sound: Complexes
    rock_sound: Complexes
    knock_sound: Complexes

    def between(self, coarse: Complexes, fine: Complexes) -> Face:
        """The same body on a finer grid of the same line.

        Cubic splines: the body rings far shorter than a string, so a grid of a quarter of the
        points shows all of it; linear steps would come back as a second sound at a quarter of
        the window.
        """
        values = np.stack([getattr(self, field.name) for field in fields(self)])
        return Face(*splined(coarse.imag, values, fine.imag))

    def plus(self, sums: Complexes) -> Face:
        """With what more a force or a moment moves and sounds, in the order of the fields."""
        own = (getattr(self, each.name) for each in fields(self))
        return Face(*(one + more for one, more in zip(own, sums, strict=True)))

    def lifted(self, s: Complexes, microphone: Microphone) -> Face:
        """With the treble of what is heard lifted by a first-order shelf.

        Woodhouse, Politzer & Mansour (2021) also found what a bridge radiates in a model too dark
        to listen to, and brightened it.
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
    """What modes add to a face, in the order of its fields; each sounds as the volume it moves,
    p = ρ·s·U/(2πR).
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
