"""The plectrum's force on a string: place, direction, strength, and duration of the release.

The plectrum pushes the string aside and lets go: a step of force, smoothed by the time in which the
string slips off the tip. In a hard stroke it slips off faster, so the sound is brighter. The tip
also rasps along the string (noise), and in a hard stroke plectrum and hand knock on the head.
There is no published source for the noise and the knock. They are shaped after recorded plucks: a
burst of noise for a few milliseconds after the release, and noise before it, while the tip touches
the string and bends it aside.

Conventions: SI units; angle 0° along the face, 90° straight into it; a down-stroke crosses the
strings towards the first one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from accomp.voice.laplace import Complexes, Floats, Grid, gamma_pulse

TOUCH = 1.5  # noise amplitude before the release over that at it: the string lies on the tip
TOUCH_BEFORE_S = 0.004  # in recordings the tip is heard before the release, -42 to -51 dB
SCRAPE_HZ = 3000.0  # the tip crosses windings of some tenths of a mm at 0.5 m/s or more
TIP_S = 0.00008  # the tip's width on the string averages out forces above 4 kHz


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
    take: tuple[int, ...]  # seed of the noise: a stroke always has the same

    @property
    def level_n(self) -> float:
        """The component of the force along the face."""
        return self.force_n * math.cos(math.radians(self.angle_deg))

    @property
    def vertical_n(self) -> float:
        """The component of the force into the face."""
        return self.force_n * math.sin(math.radians(self.angle_deg))

    def step(self, grid: Grid, at_s: float) -> Complexes:
        """Transform of the release at `at_s`, for a force of 1 N, in N·s."""
        return np.asarray(gamma_pulse(grid.s, self.release_s) * grid.delay(at_s) / grid.s)

    def rasp(self, grid: Grid, at_s: float) -> Complexes:
        """Transform of the noise force on the string, in N·s."""
        if self.noise_n == 0.0:
            return np.zeros_like(grid.s)
        burst = _touch_noise(np.random.default_rng(self.take), grid.rate_hz, self.noise_s)
        lead = max(at_s - TOUCH_BEFORE_S, 0.0)
        force = grid.transform(burst) * (self.noise_n / grid.rate_hz)
        blunt = gamma_pulse(grid.s, TIP_S, order=2)
        return np.asarray(force * blunt * grid.delay(lead))

    def knock(self, grid: Grid, at_s: float) -> Complexes:
        """Transform of the knock on the head, in N·s: a pulse of area `knock_n`·`knock_s`."""
        pulse = gamma_pulse(grid.s, self.knock_s, order=4) * grid.delay(at_s + self.knock_after_s)
        return np.asarray(pulse * (self.knock_n * self.knock_s))


def _touch_noise(random: np.random.Generator, rate_hz: int, length_s: float) -> Floats:
    """Noise from the tip's touch on; after the release it decays from a mean square of 1."""
    count = int(rate_hz * (TOUCH_BEFORE_S + 6.0 * length_s))
    times = np.arange(count) / rate_hz - TOUCH_BEFORE_S
    swell = np.where(times < 0.0, TOUCH, np.exp(-np.maximum(times, 0.0) / length_s))
    white = random.uniform(-1.0, 1.0, count) * math.sqrt(3.0)
    return np.asarray(_band_passed(white, rate_hz) * swell)


def _band_passed(white: Floats, rate_hz: int) -> Floats:
    """White noise band-passed around SCRAPE_HZ, of the same mean square: a one-pole low-pass and a
    difference, computed by convolution so that every processor rounds alike.
    """
    pole = math.exp(-2.0 * math.pi * SCRAPE_HZ / rate_hz)
    low = np.convolve(white, pole ** np.arange(64.0))[: white.size]
    band = np.diff(low, prepend=0.0)
    # White noise of mean square 1 comes out of these filters with a mean square of 2/(1 + pole).
    return np.asarray(band / math.sqrt(2.0 / (1.0 + pole)))
