"""A string that swings wide is longer, so tighter: the metallic ring and the falling pitch.

The mean stretch gives a tension that all of the string shares,

    ΔT(t) = (E·A/4)·Σ k_n²·a_n(t)²,   k_n = nπ/L,   a_n the amplitude of mode n

(Legge & Fletcher, JASA 76, 1984, 5). Its slow part raises the pitch while the string is loud; its
fast part, at twice each mode's frequency, pulls at the bridge through the break angle, and grows
with the square of the force. What the square of the slope has besides its mean drives the string's
own lengthwise modes: mode p hears pairs of partials p apart, at the sum of their frequencies,

    C_p(t) = ½·Σ k_n·k_{n+p}·a_n·a_{n+p}·cos((ω_n + ω_{n+p})·t),   force = (E·A/2)·Σ C_p·(1 − H_p),
    H_p = ω_p²/(s² + s·ω_p/Q + ω_p²),   ω_p = pπ/L·√(E·A/μ)

(the wave equation along the string, written out in its modes; Bank & Sujbert, JASA 117, 2005, 2268,
for the piano). Near ω_p these are the "phantom partials" of Conklin (JASA 105, 1999, 536): they lie
beside the string's own and are the metallic part of a banjo's ring, whose floating bridge lets
tension through to the face (Politzer, arXiv:1406.4907).

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
LENGTHWISE = 3  # modes along the string
LENGTHWISE_Q = 40.0  # no source for a banjo's; piano strings lie in the tens (from memory)
BLOCK = 256  # samples that are worked out together
CONSIDERED_S = 1.2  # the square of the amplitude is long gone after that


@dataclass(frozen=True)
class Stretch:
    """What a swing adds to the tension: its slow part, relative; its fast part at the bridge, N;
    and for each mode along the string the force that drives it, (E·A/2)·C_p, N.
    """

    glide: Floats
    force: Floats
    lengthwise: tuple[Floats, ...]


def stretch(grid: Grid, held: HeldString, decay_per_s: Floats, pluck: Pluck) -> Stretch:
    """The tension a pluck adds, for modes that each decay like exp(−decay·t)."""
    string, tension_n, length_m, hz = held.string, held.tension_n, held.length_m, held.hz
    count = int(min(CONSIDERED_S, grid.window_s / 2) * grid.rate_hz)
    n = np.arange(1, MODES + 1)
    k = n * math.pi / length_m
    # Static shape under a point force F: a_n = 2F·sin(nπx/L)·L/(n²π²T); the release rounds it off.
    start = 2.0 * pluck.force_n * length_m / (tension_n * (n * math.pi) ** 2)
    start = start * np.sin(k * pluck.at_m)
    start = start / (1.0 + (2.0 * math.pi * hz * n * pluck.release_s / 3.0) ** 2) ** 1.5
    slope = k * start
    stiffness = math.pi**2 * string.bending_nm2 / (tension_n * length_m**2)
    partial = n * hz * np.sqrt(1.0 + stiffness * n**2)
    rate = 2.0j * math.pi * partial - decay_per_s

    size = string.stretch_n / 8.0 * slope**2
    slow = np.zeros(count)
    fast = np.zeros(count)
    swing, part = np.empty((-(-count // BLOCK), BLOCK), np.complex128), np.empty(count)
    for mode in np.flatnonzero((size > 1e-4 * size.max()) & (partial < 0.2 * grid.rate_hz)):
        both = _exponential(2.0 * rate[mode] / grid.rate_hz, swing)[:count]
        both *= size[mode]
        fast += both.real
        slow += np.abs(both, out=part)

    lengthwise = []
    for number in range(1, LENGTHWISE + 1):
        own = number * lengthwise_hz(string, length_m)
        size = string.stretch_n / 4.0 * slope[:-number] * slope[number:]
        sums = partial[:-number] + partial[number:]
        near = (sums > own / 3.0) & (sums < min(3.0 * own, 0.4 * grid.rate_hz))
        driven = np.zeros(count)
        for mode in np.flatnonzero(near & (np.abs(size) > 1e-3 * np.abs(size).max())):
            sum_ = (rate[mode] + rate[mode + number]) / grid.rate_hz
            driving = _exponential(sum_, swing)[:count].real
            driven += np.multiply(driving, size[mode], out=part)
        lengthwise.append(driven)
    return Stretch(slow / tension_n, fast, tuple(lengthwise))


def lengthwise_hz(string: StringParameters, length_m: float) -> float:
    """The lowest frequency along a string held at both ends, √(E·A/μ)/(2·L)."""
    return math.sqrt(string.stretch_n / string.mass_kg_m) / (2.0 * length_m)


def passed_on(s: Complexes, own_hz: float) -> Complexes:
    """1 − H: force on the bridge over the force that drives a mode along the string; Q at its
    frequency, 1 far above it, little far below.
    """
    omega = 2.0 * math.pi * own_hz
    inner = s * s + s * (omega / LENGTHWISE_Q)
    return np.asarray(inner / (inner + omega**2))


def _exponential(rate: complex, blocks: Complexes) -> Complexes:
    """exp(rate·n) for n from 0 on, written into blocks: a product each instead of an
    exponential."""
    block = np.exp(rate * np.arange(BLOCK))
    starts = np.exp(rate * BLOCK * np.arange(len(blocks)))
    return np.multiply.outer(starts, block, out=blocks).reshape(-1)


def warp(sound: Floats, glide: Floats, start: int) -> Floats:
    """Play a sound as fast as the tension makes the string swing: frequency ~ √(1 + ΔT/T).

    Cubic splines between samples, from sample `start` (the release) on.
    """
    return bent(sound.size, glide, start).of(sound)


def bent(size: int, glide: Floats, start: int) -> Interpolation:
    """Where `warp` reads sounds of so many samples."""
    steps = np.ones(size)
    until = min(start + glide.size, size)
    steps[start:until] = np.sqrt(1.0 + glide[: until - start])
    places = np.concatenate(([0.0], np.cumsum(steps)[:-1]))
    return Interpolation(places[places <= size - 1], size)
