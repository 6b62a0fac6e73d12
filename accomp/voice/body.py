"""What bridge and microphone know of an instrument's body, whatever it is made of.

Conventions: SI units. The bridge's feet move together (heave, a force) or against one another
(rock, a moment about the line of the strings). A mobility is velocity over force, or angular
velocity over moment, in the Laplace plane; a sound is pressure over force or over moment.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np

from accomp.voice.laplace import Complexes
from accomp.voice.parameters import Microphone

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
        from scipy.interpolate import CubicSpline

        values = np.stack([getattr(self, field.name) for field in fields(self)])
        spline = CubicSpline(coarse.imag, values, axis=1)
        return Face(*spline(fine.imag))

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
