"""A banjo head: a round membrane, its modes, its air and its sound, in the Laplace plane.

Modes: φ = J_m(k·r)·cos(mθ) or sin(mθ) with J_m(k·a) = 0, frequency c·k, c² = T/σ (Fletcher &
Rossing, chapter 3.3). The air that moves along adds 2ρ/√(k² − (ω/c_air)²) to the mass per area
(both faces, a wave slower than sound). Radiation takes power out: R = ρω²/(4π²c_air)·∫|G|²dΩ over
the half-space in front of the head, G the far-field integral of φ (Rayleigh).

The bridge's two feet stand at equal distances from a diameter of the head. Feet that move together
(heave) drive the cosine modes, feet that move against one another (rock) the sine modes; the two
families do not couple.

Conventions: SI units; r from the middle of the head, θ = 0 towards the bridge and the tailpiece;
rim = J_{m+1}(ka).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from accomp.voice.body import AIR_DENSITY, MICROPHONE_M, SOUND_SPEED, Face
from accomp.voice.laplace import Complexes, Floats, mode_mobility
from accomp.voice.numerics import Orders, bessel_i_scaled, bessel_j, bessel_zeros, splined
from accomp.voice.parameters import Head, Microphone, Pot

EDGES = 1024  # frequencies at which the `_rim_factors` are computed


@dataclass(frozen=True)
class Modes:
    """Arrays of one value a mode: order m, k·a, J_{m+1}(ka), rad/s, loss factor, mass in kg."""

    order: Orders
    ka: Floats
    rim: Floats
    omega: Floats
    loss: Floats
    mass: Floats


def head_face(s: Complexes, head: Head, microphone: Microphone) -> Face:
    """Mobilities and radiated sound of the head, over s, with the air in its pot if any."""
    modes = head_modes(head)
    foot_r = math.hypot(head.bridge_mm, head.foot_mm)
    foot_angle = math.atan2(head.foot_mm, head.bridge_mm)
    feet = _shape(modes, foot_r, head) * _averaged(modes.ka * head.foot_radius_mm / head.radius_mm)
    cosine = feet * np.cos(modes.order * foot_angle)
    sine = feet * np.sin(modes.order * foot_angle) / (head.foot_mm / 1000.0)
    knock = _shape(modes, head.knock_mm, head) * np.cos(modes.order * math.pi)
    around = modes.order * math.radians(microphone.around_deg)

    radius = head.radius_mm / 1000.0
    area = np.where(modes.order == 0, 2.0 * math.pi * radius**2 * modes.rim / modes.ka, 0.0)
    kappa = s * (math.sin(math.radians(microphone.off_axis_deg)) / SOUND_SPEED)
    sums = np.zeros((5, s.size), np.complex128)
    air = np.zeros((4, s.size), np.complex128)
    for order, rim_factor in enumerate(_rim_factors(kappa * radius, int(modes.order.max()) + 1)):
        for row in np.flatnonzero(modes.order == order):
            swing = mode_mobility(s, modes.mass[row], modes.omega[row], modes.loss[row])
            heard = swing * _radiation(
                s, kappa, rim_factor, modes.ka[row] / radius, modes.rim[row] * radius
            )
            sums[0] += cosine[row] ** 2 * swing
            sums[1] += sine[row] ** 2 * swing
            sums[2] += cosine[row] * math.cos(around[row]) * heard
            sums[3] += sine[row] * math.sin(around[row]) * heard
            sums[4] += knock[row] * math.cos(around[row]) * heard
            if order == 0:
                air[0] += area[row] ** 2 * swing
                air[1] += area[row] * cosine[row] * swing
                air[2] += area[row] * knock[row] * swing
                air[3] += area[row] * heard
    pressure_flow, bridge_flow, knock_flow, pressure_sound = air[0], air[1], air[2], air[3]
    if head.pot is None:
        return Face(*sums)
    resistance, outside = pot_air(s, head.pot)
    pot_pressure = resistance / (1.0 + resistance * pressure_flow)  # over a free head's flow
    sums[0] -= bridge_flow**2 * pot_pressure
    sums[2] += bridge_flow * pot_pressure * (outside - pressure_sound)
    sums[4] += knock_flow * pot_pressure * (outside - pressure_sound)
    return Face(*sums)


def pot_air(s: Complexes, pot: Pot) -> tuple[Complexes, Complexes]:
    """The air in the pot: its pressure against the head over the head's volume velocity, and the
    pressure that the opening radiates to the microphone over the pressure in the pot.

    Air of volume V is a spring ρc²/V for volume velocity, the opening a mass and a loss: a
    Helmholtz resonator (Fletcher & Rossing, chapter 8.13). Far below its resonance the opening
    sounds in antiphase to the head's front and nearly cancels it; above it the two add.
    """
    spring = AIR_DENSITY * SOUND_SPEED**2 / (pot.volume_l / 1e3)
    omega = 2.0 * math.pi * pot.opening_hz
    open_ = s + pot.opening_loss * omega
    resistance = spring * open_ / (s * open_ + omega**2)
    flow = -(omega**2 / spring) / open_  # out of the opening, over pressure in the pot
    heard = flow * AIR_DENSITY * s / (2.0 * math.pi * MICROPHONE_M)
    return resistance, np.asarray(heard * np.exp(-s * pot.round_ms / 1e3))


def head_modes(head: Head) -> Modes:
    """All modes up to the head's highest frequency, sorted by order m, then by frequency."""
    radius = head.radius_mm / 1000.0
    highest = 2.0 * math.pi * head.highest_hz * radius
    highest /= math.sqrt(head.tension_n_m / head.mass_kg_m2)
    families = []
    for order in range(int(highest) + 1):  # the first zero of J_m lies above m
        families.append(bessel_zeros(order, highest))
    m = np.repeat(np.arange(len(families)), [family.size for family in families])
    ka = np.concatenate(families)
    rim = bessel_j(m + 1, ka)
    k = ka / radius
    omega = np.zeros_like(k)
    for _ in range(5):  # the air's mass depends on the frequency that it lowers; converges fast
        wave = np.sqrt(np.maximum(k**2 - (omega / SOUND_SPEED) ** 2, (0.1 * k) ** 2))
        area_mass = head.mass_kg_m2 + 2.0 * AIR_DENSITY / wave
        omega = k * np.sqrt(head.tension_n_m / area_mass)
    mass = area_mass * math.pi * radius**2 * rim**2 / np.where(m == 0, 1.0, 2.0)
    loss = head.loss + _resistance(m, ka, rim, omega, radius) / (omega * mass)
    return Modes(m, ka, rim, omega, loss, mass)


def _resistance(m: Orders, ka: Floats, rim: Floats, omega: Floats, radius_m: float) -> Floats:
    """Radiated power of each mode into a half-space over mean square velocity, in kg/s."""
    nodes, weights = np.polynomial.legendre.leggauss(24)
    k = ka / radius_m
    total = np.zeros_like(ka)
    for angle, weight in zip(math.pi / 4 * (nodes + 1), math.pi / 4 * weights, strict=True):
        kappa = omega / SOUND_SPEED * math.sin(angle)
        volume = (
            2 * math.pi * radius_m * k * rim * bessel_j(m, kappa * radius_m) / (k**2 - kappa**2)
        )
        total += weight * math.sin(angle) * volume**2
    around = np.where(m == 0, 2.0 * math.pi, math.pi)  # ∫cos²(mφ)dφ
    return np.asarray(AIR_DENSITY * omega**2 / (4 * math.pi**2 * SOUND_SPEED) * total * around)


def _shape(modes: Modes, radius_mm: float, head: Head) -> Floats:
    return bessel_j(modes.order, modes.ka * radius_mm / head.radius_mm)


def _averaged(x: Floats) -> Floats:
    """The factor that averages a mode over a round foot: 2·J₁(x)/x, x = k times its radius."""
    return np.asarray(2.0 * bessel_j(np.ones(x.size, np.int64), x) / x)


def _rim_factors(kappa_a: Complexes, orders: int) -> Iterator[Complexes]:
    """For each order m I_m(κa)·exp(−κa), κ = s·sinθ/c_air: the delay makes it causal, the near side
    of the rim is heard first.

    Bessel functions of complex numbers are slow, and these vary only over kilohertz: they are
    computed at about `EDGES` frequencies, with cubic splines between them.
    """
    if not kappa_a.any():  # on the axis all of the rim is equally near
        for values in bessel_i_scaled(orders, kappa_a[:1]):
            yield np.full(kappa_a.size, values[0])
        return
    some = kappa_a[:: max(kappa_a.size // EDGES, 1)]
    some = np.append(some, kappa_a[-1]) if some[-1] != kappa_a[-1] else some
    for values in bessel_i_scaled(orders, some):
        few = some.size == kappa_a.size
        yield values if few else splined(some.imag, values, kappa_a.imag)


def _radiation(
    s: Complexes, kappa: Complexes, rim_factor: Complexes, k: float, rim: float
) -> Complexes:
    """Far-field pressure over the velocity of a mode, ρ·s/(2πR)·∫φ·exp(−s·delay)dA, but for its
    cos(mθ) or sin(mθ) at the microphone.

    ∫J_m(kr)·I_m(κr)·r dr = a·k·J_{m+1}(ka)·I_m(κa)/(k² + κ²) when J_m(ka) = 0; rim = a·J_{m+1}(ka).
    """
    volume = 2.0 * math.pi * k * rim * rim_factor / (k**2 + kappa**2)
    return np.asarray(AIR_DENSITY * s / (2.0 * math.pi * MICROPHONE_M) * volume)
