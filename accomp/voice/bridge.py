"""The bridge: it carries the strings' forces to the body, and the body's motion to the strings.

The bridge is a small elastic piece with free modes: it heaves and rocks as a whole, and bends.
D⁻¹ are the inverse modal impedances (diagonal), u and w the mode shapes at a string's notch and at
the feet. The impedance Z under the feet couples the modes of one symmetry. The mobility between
two notches is then (Sherman-Morrison)

    Y = uᵀD⁻¹u' − Z·(uᵀD⁻¹w)(wᵀD⁻¹u') / (1 + Z·wᵀD⁻¹w),     foot force = Z·wᵀD⁻¹u/(1 + Z·wᵀD⁻¹w).

The bridge's mass and the stiffness near it give a banjo its formant at 500-800 Hz; bending gives
the two formants above (Woodhouse, Politzer & Mansour, Acta Acustica 5, 2021, 15 and 16: about 2 g,
20 kN/m from the strings' break angle and the head, 1 N·s/m).

Conventions: SI units; "heave" quantities are forces and velocities, "rock" moments and angular
velocities; y is sideways from the middle (first string positive), h the height of the strings.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from accomp.voice.body import Face
from accomp.voice.laplace import Complexes, mode_mobility
from accomp.voice.parameters import Bend, Bridge


@dataclass(frozen=True)
class Seat:
    """One string's notch, over s: mobilities, and pressure over the string's force.

    `vertical` and `level` are the string's two directions, towards the face and along it; `cross`
    is the mobility between them.
    """

    vertical: Complexes
    level: Complexes
    cross: Complexes
    vertical_sound: Complexes
    level_sound: Complexes


@dataclass(frozen=True)
class OtherLoads:
    """The other strings and all after-lengths that load the bridge: their impedance as force over
    velocity (`heave`) and as moment over angular velocity (`rock`).
    """

    heave: Complexes
    rock: Complexes


def seat(
    s: Complexes,
    bridge: Bridge,
    body: Face,
    side_mm: float,
    outermost_mm: float,
    others: OtherLoads,
) -> Seat:
    """The notch of a string `side_mm` from the middle; the outermost is `outermost_mm` from it."""
    heave_impedance = s * (bridge.mass_g / 1e3) + bridge.damping_ns_m + bridge.stiffness_n_m / s
    heave_impedance = heave_impedance + others.heave
    rock_impedance = s * (bridge.inertia_g_mm2 / 1e9) + bridge.rock_damping_nms
    rock_impedance = rock_impedance + bridge.rock_stiffness_nm / s + others.rock
    outward = abs(side_mm) / outermost_mm
    heave, heave_force = _notch_and_feet(
        s, heave_impedance, _heave_bends(bridge), outward, 1.0 / body.heave_mobility
    )
    rock, rock_moment = _notch_and_feet(
        s, rock_impedance, _rock_bends(bridge), outward, 1.0 / body.rock_mobility
    )
    height_m, side_m = bridge.height_mm / 1000.0, side_mm / 1000.0
    return Seat(
        vertical=heave + side_m**2 * rock,
        level=height_m**2 * rock,
        cross=height_m * side_m * rock,
        vertical_sound=heave_force * body.heave_sound + side_m * rock_moment * body.rock_sound,
        level_sound=height_m * rock_moment * body.rock_sound,
    )


def _heave_bends(bridge: Bridge) -> tuple[Bend, ...]:
    """Bending modes that heave, masses in kg."""
    return tuple(replace(bend, mass=bend.mass / 1e3) for bend in bridge.heave)


def _rock_bends(bridge: Bridge) -> tuple[Bend, ...]:
    """Bending modes that rock, masses in kg·m²."""
    return tuple(replace(bend, mass=bend.mass / 1e9) for bend in bridge.rock)


def _notch_and_feet(
    s: Complexes, rigid: Complexes, bends: tuple[Bend, ...], outward: float, feet: Complexes
) -> tuple[Complexes, Complexes]:
    """Mobility at a notch, and force on the feet over force at the notch, for the modes of one
    symmetry.

    `rigid` is the impedance of the motion as a whole, `outward` the notch's place (0 in the
    middle, 1 at an outermost string), `feet` the body's impedance.
    """
    notch = 1.0 / rigid
    transfer = notch.copy()
    foot_mobility = notch.copy()
    for bend in bends:
        swing = mode_mobility(s, bend.mass, 2.0 * math.pi * bend.hz, bend.loss)
        here = bend.middle + (bend.outer - bend.middle) * outward
        notch = notch + here**2 * swing
        transfer = transfer + here * bend.foot * swing
        foot_mobility = foot_mobility + bend.foot**2 * swing
    share = feet / (1.0 + feet * foot_mobility)
    return np.asarray(notch - share * transfer**2), np.asarray(share * transfer)
