"""Added tension of a string with a large amplitude: the falling pitch and the metallic ring.

A displaced string is longer, so its tension is higher. The mean stretch adds, all along the string,

    ΔT(t) = (E·A/4)·Σ k_n²·a_n(t)²,   k_n = nπ/L,   a_n the amplitude of mode n

(Legge & Fletcher, JASA 76, 1984, 5). Its slow part raises the pitch while the amplitude is large.
Its fast part, at twice each mode's frequency, pulls at the bridge through the break angle, and
grows with the square of the force. The rest of the squared slope drives the string's longitudinal
modes: pairs of partials whose numbers differ by p drive mode p at the sum of their frequencies,

    C_p(t) = ½·Σ k_n·k_{n+p}·a_n·a_{n+p}·cos((ω_n + ω_{n+p})·t),   force = (E·A/2)·Σ C_p·(1 − H_p),
    H_p = ω_p²/(s² + s·ω_p/Q + ω_p²),   ω_p = pπ/L·√(E·A/μ)

(the wave equation along the string, written out in its modes; Bank & Sujbert, JASA 117, 2005, 2268,
for the piano). Near ω_p these are the "phantom partials" of Conklin (JASA 105, 1999, 536), which
lie beside the string's own partials. They are the metallic part of a banjo's sound, because its
floating bridge transmits tension to the face (Politzer, arXiv:1406.4907).

Conventions: SI units; all signals start at the release.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from accomp.voice.laplace import Complexes, Floats, Grid
from accomp.voice.numerics import Interpolation
from accomp.voice.parameters import StringParameters
from accomp.voice.pluck import Pluck
from accomp.voice.strings import HeldString

MODES = 28
LENGTHWISE = 3  # longitudinal modes
LENGTHWISE_Q = 40.0  # no source for a banjo's; piano strings lie in the tens (from memory)
BLOCK = 256  # samples that are computed together
CONSIDERED_S = 1.2  # after that the squared amplitude is negligible


@dataclass(frozen=True)
class Stretch:
    """Added tension, as signals from the release on: the slow part over the tension (`glide`), the
    fast part at the bridge in N, and the force on each longitudinal mode, (E·A/2)·C_p, in N.
    """

    glide: Floats
    force: Floats
    lengthwise: tuple[Floats, ...]


def stretch(grid: Grid, held: HeldString, decay_per_s: Floats, pluck: Pluck) -> Stretch:
    """The tension that a pluck adds; each mode n decays as exp(−`decay_per_s`[n − 1]·t)."""
    string, tension_n, length_m, hz = held.string, held.tension_n, held.length_m, held.hz
    count = int(min(CONSIDERED_S, grid.window_s / 2) * grid.rate_hz)
    n = np.arange(1, MODES + 1)
    k = n * math.pi / length_m
    # Static shape under a point force F: a_n = 2F·sin(nπx/L)·L/(n²π²T); the release rounds it off.
    amplitude = 2.0 * pluck.force_n * length_m / (tension_n * (n * math.pi) ** 2)
    amplitude = amplitude * np.sin(k * pluck.at_m)
    amplitude = amplitude / (1.0 + (2.0 * math.pi * hz * n * pluck.release_s / 3.0) ** 2) ** 1.5
    slope = k * amplitude
    stiffness = math.pi**2 * string.bending_nm2 / (tension_n * length_m**2)
    partials_hz = n * hz * np.sqrt(1.0 + stiffness * n**2)
    rate = 2.0j * math.pi * partials_hz - decay_per_s

    strength = string.stretch_n / 8.0 * slope**2
    slow = np.zeros(count)
    fast = np.zeros(count)
    blocks, scratch = np.empty((-(-count // BLOCK), BLOCK), np.complex128), np.empty(count)
    for mode in np.flatnonzero(
        (strength > 1e-4 * strength.max()) & (partials_hz < 0.2 * grid.rate_hz)
    ):
        oscillation = _exponential(2.0 * rate[mode] / grid.rate_hz, blocks)[:count]
        oscillation *= strength[mode]
        fast += oscillation.real
        slow += np.abs(oscillation, out=scratch)

    lengthwise = []
    for number in range(1, LENGTHWISE + 1):
        own_hz = number * lengthwise_hz(string, length_m)
        strength = string.stretch_n / 4.0 * slope[:-number] * slope[number:]
        sums_hz = partials_hz[:-number] + partials_hz[number:]
        near = (sums_hz > own_hz / 3.0) & (sums_hz < min(3.0 * own_hz, 0.4 * grid.rate_hz))
        driven = np.zeros(count)
        for mode in np.flatnonzero(near & (np.abs(strength) > 1e-3 * np.abs(strength).max())):
            step = (rate[mode] + rate[mode + number]) / grid.rate_hz
            driving = _exponential(step, blocks)[:count].real
            driven += np.multiply(driving, strength[mode], out=scratch)
        lengthwise.append(driven)
    return Stretch(slow / tension_n, fast, tuple(lengthwise))


def lengthwise_hz(string: StringParameters, length_m: float) -> float:
    """The lowest longitudinal resonance of a string held at both ends, √(E·A/μ)/(2·L), in hertz."""
    return math.sqrt(string.stretch_n / string.mass_kg_m) / (2.0 * length_m)


def passed_on(s: Complexes, own_hz: float) -> Complexes:
    """1 − H: force on the bridge over the force that drives a longitudinal mode. Its magnitude is
    about Q at the mode's frequency, 1 far above it, small far below.
    """
    omega = 2.0 * math.pi * own_hz
    inner = s * s + s * (omega / LENGTHWISE_Q)
    return np.asarray(inner / (inner + omega**2))


def _exponential(rate: complex, blocks: Complexes) -> Complexes:
    """exp(rate·n) for n from 0 on, written into `blocks`: products are faster than exponentials."""
    block = np.exp(rate * np.arange(BLOCK))
    starts = np.exp(rate * BLOCK * np.arange(len(blocks)))
    return np.multiply.outer(starts, block, out=blocks).reshape(-1)


def warp(sound: Floats, glide: Floats, start: int) -> Floats:
    """Resample a sound so that its frequencies rise by √(1 + ΔT/T) with the added tension; `glide`
    is ΔT/T from sample `start` (the release) on.
    """
    return bent(sound.size, glide, start).of(sound)


def bent(size: int, glide: Floats, start: int) -> Interpolation:
    """The interpolation of `warp`, for sounds of `size` samples."""
    steps = np.ones(size)
    until = min(start + glide.size, size)
    steps[start:until] = np.sqrt(1.0 + glide[: until - start])
    places = np.concatenate(([0.0], np.cumsum(steps)[:-1]))
    return Interpolation(places[places <= size - 1], size)
