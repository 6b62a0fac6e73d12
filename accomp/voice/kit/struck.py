"""A blow: a pulse of force, shorter for harder blows, and the modes that ring after it.

The force between a striker and a surface rises faster than the indentation, so the contact time of
a harder blow is shorter (Hertz; felt and wood: Chaigne & Askenfelt, JASA 95, 1994, 1112, for the
piano's hammer). A shorter pulse has a wider spectrum: loud blows are bright.

Conventions: `force` is a share of the hardest blow, 0 to 1; times in seconds; sounds are float
arrays that begin with the blow.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from accomp.voice.laplace import Floats

BLOCK = 256
T60 = math.log(1000.0)  # nepers in 60 dB
ORDER = 3  # of the pulse: 1/(1 + jωT/3)³, as a plectrum's release is rounded


@dataclass(frozen=True, slots=True)
class Striker:
    """A stick, a beater, a brush: its contact time in the hardest blow (proportional to
    force^-`hardening`), and the level and decay of its own noise.
    """

    contact_ms: float
    hardening: float
    click: float = 0.0
    click_ms: float = 1.0

    def contact_s(self, force: float) -> float:
        """Contact time in seconds."""
        return float(self.contact_ms / 1000.0 * force**-self.hardening)


def decaying(hz: Floats, fall_s: Floats, weights: Floats, count: int, rate_hz: int) -> Floats:
    """The sum of damped sines that each fall by 60 dB in their `fall_s`; `count` samples.

    It is computed in blocks as a product of two short tables, mode by mode in a fixed order, so
    that the result does not depend on the number of processors.
    """
    rate = (2.0j * np.pi * hz - T60 / fall_s) / rate_hz
    starts = weights[:, None] * np.exp(np.outer(rate, BLOCK * np.arange(-(-count // BLOCK))))
    inner = np.exp(np.outer(rate, np.arange(BLOCK)))
    total = np.einsum("kb,kn->bn", starts.real, inner.imag)
    total += np.einsum("kb,kn->bn", starts.imag, inner.real)
    return np.asarray(total.ravel()[:count])


def pulsed(sound: Floats, contact_s: float, rate_hz: int) -> Floats:
    """An impulse response convolved with a pulse of that length."""
    size = 2 ** math.ceil(math.log2(2 * sound.size))
    s = 2.0j * np.pi * np.fft.rfftfreq(size, 1.0 / rate_hz)
    once = 1.0 / (1.0 + s * (contact_s / ORDER))
    pulse = once * once * once
    return np.asarray(np.fft.irfft(np.fft.rfft(sound, size) * pulse, size)[: sound.size])


def band(noise: Floats, low_hz: float, high_hz: float, rate_hz: int) -> Floats:
    """Noise band-passed with slopes of 12 dB per octave."""
    size = 2 ** math.ceil(math.log2(2 * noise.size))
    f = np.fft.rfftfreq(size, 1.0 / rate_hz)
    shape = (f / low_hz) ** 2 / (1.0 + (f / low_hz) ** 2) / (1.0 + (f / high_hz) ** 2)
    return np.asarray(np.fft.irfft(np.fft.rfft(noise, size) * shape, size)[: noise.size])


def clicked(
    striker: Striker, force: float, sound: Floats, rate_hz: int, seed: Sequence[int]
) -> Floats:
    """The sound with the striker's own noise added, at a share of the sound's highest peak."""
    if not striker.click:
        return sound
    count = min(sound.size, round(0.03 * rate_hz))
    time_s = np.arange(count) / rate_hz
    noise = np.random.default_rng(seed).uniform(-1.0, 1.0, count)
    noise *= np.exp(-time_s / (striker.click_ms / 1000.0))
    noise = band(noise, 800.0, 1.0 / striker.contact_s(force), rate_hz)
    noise *= striker.click * math.sqrt(force) * np.abs(sound).max() / np.abs(noise).max()
    sound = sound.copy()
    sound[:count] += noise
    return sound
