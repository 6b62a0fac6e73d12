"""The bridge: how the strings' forces reach the body, and how the body answers.

The bridge is a small elastic piece with free modes: it heaves and rocks as a whole, and bends.
With inverse modal impedances D⁻¹ (diagonal), notches u (where a string presses) and feet w, the
feet's impedance Z couples the modes of one symmetry, and the mobility between two notches is
(Sherman-Morrison)

    Y = uᵀD⁻¹u' − Z·(uᵀD⁻¹w)(wᵀD⁻¹u') / (1 + Z·wᵀD⁻¹w),     foot force = Z·wᵀD⁻¹u/(1 + Z·wᵀD⁻¹w).

Mass against the stiffness near the bridge gives a banjo its formant at 500-800 Hz, bending gives
the two above (Woodhouse, Politzer & Mansour, Acta Acustica 5, 2021, 15 and 16: about 2 g, 20 kN/m
from the strings' break angle and the head, 1 N·s/m).

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
    """One string's notch, over s: mobilities and the sound that its forces make.

    `vertical` and `level` are the string's two directions, towards the face and along it.
    """

    vertical: Complexes
    level: Complexes
    cross: Complexes
    vertical_sound: Complexes
    level_sound: Complexes


@dataclass(frozen=True)
class OtherLoads:
    """Everything else that is tied to the bridge, other strings and after-lengths: its impedance as
    force over velocity and as moment over angular velocity.
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
    """The notch of a string `side_mm` from the middle, where the outermost is `outermost_mm`."""
    rigid = s * (bridge.mass_g / 1e3) + bridge.damping_ns_m + bridge.stiffness_n_m / s
    rigid = rigid + others.heave
    turning = s * (bridge.inertia_g_mm2 / 1e9) + bridge.rock_damping_nms
    turning = turning + bridge.rock_stiffness_nm / s + others.rock
    out = abs(side_mm) / outermost_mm
    up, up_force = _family(s, rigid, _heaving(bridge), out, 1.0 / body.heave_mobility)
    turn, turn_moment = _family(s, turning, _rocking(bridge), out, 1.0 / body.rock_mobility)
    height, side = bridge.height_mm / 1000.0, side_mm / 1000.0
    return Seat(
        vertical=up + side**2 * turn,
        level=height**2 * turn,
        cross=height * side * turn,
        vertical_sound=up_force * body.heave_sound + side * turn_moment * body.rock_sound,
        level_sound=height * turn_moment * body.rock_sound,
    )


def _heaving(bridge: Bridge) -> tuple[Bend, ...]:
    """Bending modes that heave, masses in kg."""
    return tuple(replace(bend, mass=bend.mass / 1e3) for bend in bridge.heave)


def _rocking(bridge: Bridge) -> tuple[Bend, ...]:
    """Bending modes that rock, masses in kg·m²."""
    return tuple(replace(bend, mass=bend.mass / 1e9) for bend in bridge.rock)


def _family(
    s: Complexes, rigid: Complexes, bends: tuple[Bend, ...], out: float, feet: Complexes
) -> tuple[Complexes, Complexes]:
    """Mobility at a notch and force on the feet, for the modes of one symmetry."""
    notch = 1.0 / rigid
    through = notch.copy()
    standing = notch.copy()
    for bend in bends:
        swing = mode_mobility(s, bend.mass, 2.0 * math.pi * bend.hz, bend.loss)
        here = bend.middle + (bend.outer - bend.middle) * out
        notch = notch + here**2 * swing
        through = through + here * bend.foot * swing
        standing = standing + bend.foot**2 * swing
    share = feet / (1.0 + feet * standing)
    return np.asarray(notch - share * through**2), np.asarray(share * through)
