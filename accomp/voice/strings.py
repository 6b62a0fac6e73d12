"""A stiff, lossy string between a fret and the bridge, in the Laplace plane.

Wave equation for the displacement y(x, s):  E·I·y'''' − T·y'' + (μ·s² + m_air(s)·s²)·y = 0.
Its slow root is the propagation constant γ, with y ~ exp(±γx); the fast, evanescent root only
matters within a millimetre of the ends and is left out (Fletcher & Rossing, "The Physics of
Musical Instruments", 2nd ed. 1998, chapter 2.18).

Losses: viscous air after Stokes (same book, 2.19); inner friction as a constant loss factor η of
tension (windings) and of bending stiffness, in the causal form E·(1 + (2η/π)·ln(s/ω₁)), whose
imaginary part on the frequency axis is E·η; a lossy end: the finger behind the fret, or the nut.

Conventions: SI units; the bridge is at x = 0, the fret at x = L; `zc` is the wave impedance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from accomp.voice.body import AIR_DENSITY, AIR_VISCOSITY
from accomp.voice.laplace import Complexes
from accomp.voice.parameters import StringParameters

SEMITONE = 2.0 ** (1.0 / 12.0)


@dataclass(frozen=True)
class Waves:
    """Waves on a string: propagation constant γ (1/m) and wave impedance (kg/s), over s."""

    gamma: Complexes
    zc: Complexes

    def impedance(self, length_m: float, end_loss: float) -> Complexes:
        """Impedance at the bridge of a string of this length: zc·coth(γL + ε)."""
        return np.asarray(self.zc / np.tanh(self.gamma * length_m + end_loss))

    def over(self, at_m: float) -> Complexes:
        """Factor of a wave that travels `at_m` along the string."""
        return np.asarray(np.exp(-self.gamma * at_m))

    def round_trip(self, length_m: float, end_loss: float) -> Complexes:
        """Factor of a wave that travels to the far end and back."""
        return np.asarray(np.exp(-2.0 * (self.gamma * length_m + end_loss)))


def blocked(there: Complexes, round_trip: Complexes) -> Complexes:
    """Force on a fixed bridge over the force on the string; `there` is `Waves.over` the distance
    from the bridge to the plucking point.
    """
    # sinh(γ(L − x) + ε)/sinh(γL + ε), with the growing exponential divided out of both.
    return np.asarray((there - round_trip / there) / (1.0 - round_trip))


@dataclass(frozen=True, slots=True)
class HeldString:
    """A string held at one length.

    `end_loss` is the loss at the end for vibration towards the face; for vibration along the face
    it is multiplied by `side_loss`. For the latter the string is also longer, by the share `apart`
    of its length, because the fret holds it less firmly in that direction.
    """

    string: StringParameters
    tension_n: float
    length_m: float
    end_loss: float
    side_loss: float
    apart: float

    @property
    def hz(self) -> float:
        """Fundamental without stiffness."""
        return math.sqrt(self.tension_n / self.string.mass_kg_m) / (2.0 * self.length_m)


def waves(s: Complexes, string: StringParameters, tension_n: float, fundamental_hz: float) -> Waves:
    """Waves on a string under tension; the loss factors hold at `fundamental_hz` (ω₁)."""
    log = np.log(s / (2.0 * math.pi * fundamental_hz)) * (2.0 / math.pi)
    tension = tension_n * (1.0 + string.tension_loss * log)
    bending = string.bending_nm2 * (1.0 + string.bending_loss * log)
    radius = string.diameter_mm / 2000.0
    z = radius * np.sqrt(s / AIR_VISCOSITY)
    air = AIR_DENSITY * math.pi * radius**2 * (1.0 + 4.0 / z + 2.0 / z**2)
    inertia = (string.mass_kg_m + air) * s**2
    # Small root of E·I·γ⁴ − T·γ² + inertia = 0, in the form without cancellation.
    gamma2 = 2.0 * inertia / (tension + np.sqrt(tension**2 - 4.0 * bending * inertia))
    gamma = np.sqrt(gamma2)
    return Waves(gamma, tension * gamma / s)


def fretted_m(scale_m: float, fret: float) -> float:
    """Sounding length at a fret n in metres, L·2^(−n/12)."""
    return float(scale_m * SEMITONE ** (-fret))
