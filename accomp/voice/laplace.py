"""From a response in the Laplace plane to a sound: the grid of frequencies and the inversion.

A linear model is easiest to write as a function of the complex frequency s (1/s). It is evaluated
along the line s = σ + jω, inverted with a fast Fourier transform, and multiplied by exp(σt). The
damping σ suppresses time aliasing: the part of a sound after the window's end T folds back weakened
by exp(−σT) (Wilcox, "Numerical Laplace transformation and inversion", 1978; the exponential window
of digital signal processing).

Conventions: seconds, hertz; time zero lies `lead_s` after the beginning of the window, which leaves
room for the short low-pass filter. Every factor of a model must be causal, that is, analytic to the
right of the line. Real parts, magnitudes and linear interpolation are not: their errors would grow
with exp(σt) towards the end.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Complexes = npt.NDArray[np.complex128]

WINDOW_NEPERS = 6.9  # σT: time aliasing is 60 dB weaker, and rounding stays small


@dataclass(frozen=True)
class Grid:
    """A window of `count` samples at `rate_hz`, and its line in the Laplace plane."""

    rate_hz: int
    count: int
    taps: int = 192  # of the low-pass filter

    @property
    def window_s(self) -> float:
        """Length of the window, in seconds."""
        return self.count / self.rate_hz

    @property
    def sigma(self) -> float:
        """Distance of the line from the imaginary axis, in 1/s."""
        return WINDOW_NEPERS / self.window_s

    @property
    def lead_s(self) -> float:
        """Delay of the low-pass filter in seconds: the place of time zero in the window."""
        return (self.taps - 1) / 2 / self.rate_hz

    @cached_property
    def s(self) -> Complexes:
        """The complex frequencies, from zero to half the sampling rate."""
        omega = 2.0 * np.pi * np.fft.rfftfreq(self.count, 1.0 / self.rate_hz)
        return np.asarray(self.sigma + 1j * omega, np.complex128)

    @cached_property
    def _damping(self) -> Floats:
        return np.exp(-self.sigma * np.arange(self.count) / self.rate_hz)

    @cached_property
    def _low_pass(self) -> Complexes:
        """A linear-phase filter, −120 dB at half the sampling rate, flat to 0.8 of it."""
        cutoff = 0.9 * self.rate_hz / 2
        times = (np.arange(self.taps) - (self.taps - 1) / 2) / self.rate_hz
        kernel = (
            2 * cutoff / self.rate_hz * np.sinc(2 * cutoff * times) * np.kaiser(self.taps, 12.0)
        )
        return self.transform(kernel)

    @cached_property
    def _delays(self) -> dict[float, Complexes]:
        return {}

    def delay(self, at_s: float) -> Complexes:
        """exp(−s·t), a delay by t seconds. Strokes share a few delays, so the arrays are cached."""
        kept = self._delays.get(at_s)
        if kept is None:
            kept = self._delays[at_s] = np.exp(-self.s * at_s)
            kept.flags.writeable = False
        return kept

    def transform(self, signal: Floats) -> Complexes:
        """The transform of a sampled signal that starts at the beginning of the window."""
        return np.asarray(np.fft.rfft(signal * self._damping[: signal.size], self.count))

    def sound(self, response: Complexes) -> Floats:
        """The sound of a response, low-passed: `count` samples, time zero at `lead_s`.

        `response` is the Laplace transform of the continuous signal: the signal's unit times
        seconds.
        """
        spectrum = response * self._low_pass
        return np.asarray(np.fft.irfft(spectrum, self.count) * self.rate_hz / self._damping)


def gamma_pulse(s: Complexes, length_s: float, order: int = 3) -> Complexes:
    """A smooth causal pulse of area 1 and mean delay `length_s`: 1/(1 + s·T/n)^n."""
    once = 1.0 / (1.0 + s * (length_s / order))
    pulse = once
    for _ in range(order - 1):
        pulse = pulse * once
    return np.asarray(pulse)


def mode_mobility(s: Complexes, mass: float, omega: float, loss: float) -> Complexes:
    """Velocity over force of one mode, s/(m·(s² + η·ω·s + ω²)); with a moment of inertia for
    `mass`, angular velocity over moment.
    """
    return np.asarray(s / (mass * (s * s + loss * omega * s + omega**2)))
