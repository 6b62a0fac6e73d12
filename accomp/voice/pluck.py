"""What the plectrum does to a string: where, in which direction, how hard and how suddenly.

The plectrum pushes the string aside and lets go: a step of force, rounded by the time the string
takes to slip off the tip. A hard stroke slips off faster, which is why it is brighter. On the way
the tip rasps along the string (noise), and on a hard stroke plectrum and hand knock on the head.
No published source for the noise and the knock: shaped to what measured plucks show, a burst of a
few milliseconds around the release, and before it the tip as it comes to the string and bends it
aside.

Conventions: SI units; angle 0° along the face, 90° straight into it; a down-stroke crosses the
strings towards the first one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from accomp.voice.laplace import Complexes, Floats, Grid, gamma_pulse

TOUCH = 1.5  # noise before the release over that at it: the string still stands against the tip
TOUCH_BEFORE_S = 0.004  # recorded notes are heard before they are let go, 42 to 51 dB under
SCRAPE_HZ = 3000.0  # windings of a few tenths of a millimetre at half a metre a second or more
TIP_S = 0.00008  # the tip touches some length of string, which no force above 4 kHz gets across


@dataclass(frozen=True, slots=True)
class Pluck:
    """One stroke on one string."""

    force_n: float
    at_m: float
    angle_deg: float
    release_s: float
    noise_n: float
    noise_s: float
    knock_n: float
    knock_s: float
    knock_after_s: float
    take: tuple[int, ...]  # what the noise is drawn from, so that it is always the same

    @property
    def level_n(self) -> float:
        """The part of the force along the face."""
        return self.force_n * math.cos(math.radians(self.angle_deg))

    @property
    def vertical_n(self) -> float:
        """The part of the force into the face."""
        return self.force_n * math.sin(math.radians(self.angle_deg))

    def step(self, grid: Grid, at_s: float) -> Complexes:
        """Transform of the release at `at_s`, for a force of 1 N."""
        return np.asarray(gamma_pulse(grid.s, self.release_s) * grid.delay(at_s) / grid.s)

    def rasp(self, grid: Grid, at_s: float) -> Complexes:
        """Transform of the noise force on the string, in N·s."""
        if self.noise_n == 0.0:
            return np.zeros_like(grid.s)
        burst = _burst(np.random.default_rng(self.take), grid.rate_hz, self.noise_s)
        lead = max(at_s - TOUCH_BEFORE_S, 0.0)
        force = grid.transform(burst) * (self.noise_n / grid.rate_hz)
        blunt = gamma_pulse(grid.s, TIP_S, order=2)
        return np.asarray(force * blunt * grid.delay(lead))

    def knock(self, grid: Grid, at_s: float) -> Complexes:
        """Transform of the tap on the head, a pulse of `knock_n` newtons for `knock_s`."""
        pulse = gamma_pulse(grid.s, self.knock_s, order=4) * grid.delay(at_s + self.knock_after_s)
        return np.asarray(pulse * (self.knock_n * self.knock_s))


def _burst(random: np.random.Generator, rate_hz: int, length_s: float) -> Floats:
    """Noise that begins when the tip touches and dies away after the release, there of mean
    square 1.
    """
    count = int(rate_hz * (TOUCH_BEFORE_S + 6.0 * length_s))
    times = np.arange(count) / rate_hz - TOUCH_BEFORE_S
    swell = np.where(times < 0.0, TOUCH, np.exp(-np.maximum(times, 0.0) / length_s))
    white = random.uniform(-1.0, 1.0, count) * math.sqrt(3.0)
    return np.asarray(_scraped(white, rate_hz) * swell)


def _scraped(white: Floats, rate_hz: int) -> Floats:
    """White noise with little below and above SCRAPE_HZ, of the same mean square: two one-pole
    filters, as sums of their responses, so that every processor rounds alike.
    """
    pole = math.exp(-2.0 * math.pi * SCRAPE_HZ / rate_hz)
    low = np.convolve(white, pole ** np.arange(64.0))[: white.size]
    band = np.diff(low, prepend=0.0)
    # Of the difference of a one-pole low-pass, for white noise of mean square 1: 2/(1 + pole).
    return np.asarray(band / math.sqrt(2.0 / (1.0 + pole)))
