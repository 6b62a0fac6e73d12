"""A string that swings wide is longer, so tighter: the metallic ring and the falling pitch.

The mean stretch gives a tension that all of the string shares,

    ΔT(t) = (E·A/4)·Σ k_n²·a_n(t)²,   k_n = nπ/L,   a_n the amplitude of mode n

(Legge & Fletcher, JASA 76, 1984, 5). Its slow part raises the pitch while the string is loud; its
fast part, at twice each mode's frequency, pulls at the bridge through the break angle, and grows
with the square of the force. Near the bridge the tension also follows the square of the slope,
which holds every sum of two partials; the string's longitudinal resonances pick from it (the
"phantom partials" of Conklin, JASA 105, 1999). On a floating bridge this is the metallic part of a
banjo's ring (Politzer, arXiv:1406.4907).

Conventions: SI units; all signals start at the release.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from accomp.voice.laplace import Complexes, Floats, Grid
from accomp.voice.parameters import StringParameters
from accomp.voice.pluck import Pluck

MODES = 28
CONSIDERED_S = 1.2  # the square of the amplitude is long gone after that


@dataclass(frozen=True)
class Stretch:
    """Relative rise of tension (slow part) and the tension force at the bridge (fast part), N."""

    glide: Floats
    force: Floats


def stretch(
    grid: Grid,
    string: StringParameters,
    tension_n: float,
    length_m: float,
    hz: float,
    decay_per_s: float,
    pluck: Pluck,
) -> Stretch:
    """The tension a pluck adds, for modes that all decay like exp(−decay·√n·t)."""
    count = int(min(CONSIDERED_S, grid.window_s / 2) * grid.rate_hz)
    n = np.arange(1, MODES + 1)
    k = n * math.pi / length_m
    # Static shape under a point force F: a_n = 2F·sin(nπx/L)·L/(n²π²T); the release rounds it off.
    start = 2.0 * pluck.force_n * length_m / (tension_n * (n * math.pi) ** 2)
    start = start * np.sin(k * pluck.at_m)
    start = start / (1.0 + (2.0 * math.pi * hz * n * pluck.release_s / 3.0) ** 2) ** 1.5
    size = string.stretch_n / 8.0 * (k * start) ** 2
    size = size[2.0 * n * hz < 0.4 * grid.rate_hz]
    stiffness = math.pi**2 * string.bending_nm2 / (tension_n * length_m**2)
    slow = np.zeros(count)
    fast = np.zeros(count)
    for mode in (np.flatnonzero(size > 1e-4 * size.max()) + 1).tolist():
        partial = mode * hz * math.sqrt(1.0 + stiffness * mode**2)
        rate = -2.0 * decay_per_s * math.sqrt(mode) + 4.0j * math.pi * partial
        swing = size[mode - 1] * _exponential(rate / grid.rate_hz, count)
        fast += swing.real
        slow += np.abs(swing)
    return Stretch(slow / tension_n, fast)


def _exponential(rate: complex, count: int) -> Complexes:
    """exp(rate·n) for n = 0 .. count − 1, by blocks: a product each instead of an exponential."""
    block = np.exp(rate * np.arange(256))
    starts = np.exp(rate * 256 * np.arange(-(-count // 256)))
    return np.asarray(np.multiply.outer(starts, block).ravel()[:count])


def resonances(s: Complexes, longitudinal_hz: float, highest_hz: float) -> Complexes:
    """How the string's longitudinal modes pick up what its slope drives, 1 at a resonance."""
    total = np.zeros_like(s)
    for number in (1, 2, 3):
        if number * longitudinal_hz > highest_hz:
            break
        omega = 2.0 * math.pi * number * longitudinal_hz
        width = 0.05 * omega
        total += width * s / (s * s + width * s + omega**2) / number
    return total


def warp(sound: Floats, glide: Floats, rate_hz: int, start: int) -> Floats:
    """Play a sound as fast as the tension makes the string swing: frequency ~ √(1 + ΔT/T).

    Cubic interpolation between samples, from sample `start` (the release) on.
    """
    from scipy.interpolate import CubicSpline

    steps = np.ones(sound.size)
    until = min(start + glide.size, sound.size)
    steps[start:until] = np.sqrt(1.0 + glide[: until - start])
    places = np.concatenate(([0.0], np.cumsum(steps)[:-1]))
    places = places[places <= sound.size - 1]
    return np.asarray(CubicSpline(np.arange(sound.size), sound)(places))
