"""How strokes begin, for many mixtures of the same sounds: attack, highest peak, how high that is.

A stroke is a sum: its swing along the face and straight at it, what does not depend on its
direction, its tap. The parts are heard once; products of them give how loud and how bright any sum
is, and a short stretch of each gives how it rises. So a hundred mixtures cost little more than one.

As a listener measures it: high-passed at 90 Hz or 0.6 of the pitch, whichever is higher
(Butterworth, 4th order), the loudness K-weighted over 0.4 s.

Conventions: a sample is played for some keys, so faster and slower than it was made; `rate_hz` is
that of the fastest, `slowest` the least speed over the greatest. Times in seconds.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from accomp.voice.laplace import Complexes, Floats
from accomp.voice.measure import BLOCK_S, BRIGHT_S, BRIGHT_SIZE, SCALE_K, k_weight
from accomp.voice.numerics import fast_size, rounded

SHORT_S = 0.085  # of it the highest peak is one of the first 80 ms, the rise one of the first 60
PEAKS_S, RISE_S = 0.08, 0.06
SMOOTH_S = 0.002
STRIDE = 4  # samples; the envelope needs no more
HIGHS = (0.85, 0.96)  # parts of the highest point; nine tenths lie between
ALIKE = 0.95  # played at another rate, a peak this high may be the highest


@dataclass(frozen=True, slots=True)
class Start:
    """How a note begins on whichever of its keys: the shortest and the longest attack (a tenth to
    about nine tenths of the envelope's highest point), the earliest and the latest time from that
    tenth to a peak as good as the highest, its height over the loudness in dB; and how bright it
    is, in hertz.
    """

    attacks_s: tuple[float, float]
    peaks_s: tuple[float, float]
    crest_db: float
    centroid_hz: float


@dataclass(frozen=True)
class Parts:
    """Sounds as they are heard, ready to be mixed."""

    rate_hz: float
    slowest: float
    heads: tuple[Floats, ...]
    loud: Floats  # products of two parts, K-weighted
    power: Floats  # products of two parts, and the same times the frequency
    power_hz: Floats

    def start(self, weights: Sequence[float]) -> Start:
        """How the sum of the parts, each times its weight, begins."""
        return self.parts_sum(weights).start(())

    def parts_sum(self, weights: Sequence[float]) -> PartsSum:
        """The first of the parts added up."""
        return PartsSum(self, tuple(weights), self._sum(weights, self.heads))

    @staticmethod
    def _sum(weights: Sequence[float], heads: Sequence[Floats]) -> Floats | float:
        return sum(weight * head for weight, head in zip(weights, heads, strict=False) if weight)


@dataclass(frozen=True)
class PartsSum:
    """Some of the parts added up, for many sums that differ in the others."""

    parts: Parts
    weights: tuple[float, ...]
    sound: Floats | float

    def glance(self, number: int, shares: Floats) -> tuple[Floats, Floats]:
        """What is seen at once of the sums with so much of one of the others: the height of the
        highest peak over the loudness in dB, or less; and the centroid in hertz. But for rounding
        what `start` says.
        """
        parts, place = self.parts, len(self.weights) + number
        peaks = round(PEAKS_S * parts.rate_hz)
        sums = np.multiply.outer(shares, parts.heads[place][:peaks])
        sums += np.asarray(self.sound)[:peaks]
        tops = np.maximum(sums.max(axis=1), -sums.min(axis=1))
        rows = np.zeros((shares.size, len(parts.heads)))
        rows[:, : len(self.weights)] = self.weights
        rows[:, place] = shares
        loud, power, power_hz = (
            np.einsum("ki,ij,kj->k", rows, products, rows)
            for products in (parts.loud, parts.power, parts.power_hz)
        )
        return 10.0 * np.log10(tops**2 / loud), power_hz / power

    def start(self, weights: Sequence[float]) -> Start:
        """How the sum with the others, each times its weight, begins."""
        rate_hz, sound = self.parts.rate_hz, self.sound
        for weight, head in zip(weights, self.parts.heads[len(self.weights) :], strict=True):
            if weight:
                sound = sound + weight * head
        sound = np.asarray(sound)
        level = self._level(sound)
        rise = level[: round(RISE_S * rate_hz / STRIDE)]
        highest = rise.max()
        foot = int(np.argmax(rise >= 0.1 * highest))
        first, last = (int(np.argmax(rise >= high * highest)) - foot for high in HIGHS)
        begin = foot * STRIDE
        size = np.abs(sound[: begin + round(PEAKS_S * rate_hz)])
        top = float(size.max())
        tops = np.flatnonzero(size >= ALIKE * top) - begin
        slow_hz = rate_hz * self.parts.slowest
        all_ = np.array((*self.weights, *weights))
        times = all_[:, None] * all_  # the weight of each product of two parts
        return Start(
            (first * STRIDE / rate_hz, last * STRIDE / slow_hz),
            (int(tops[0]) / rate_hz, int(tops[-1]) / slow_hz),
            10.0 * math.log10(top**2 / float((self.parts.loud * times).sum())),
            float((self.parts.power_hz * times).sum() / (self.parts.power * times).sum()),
        )

    def _level(self, sound: Floats) -> Floats:
        """The envelope of as much of a sound as it rises in."""
        window = rounded(round(SMOOTH_S * self.parts.rate_hz / STRIDE) | 1)
        count = round(RISE_S * self.parts.rate_hz / STRIDE) + window.size
        power = np.square(sound[: min(count, sound.size // STRIDE) * STRIDE])
        summed = power[::STRIDE] + power[1::STRIDE]
        for number in range(2, STRIDE):
            summed += power[number::STRIDE]
        return np.sqrt(np.maximum(np.convolve(summed, window, mode="same"), 0.0))


def heard(sounds: Sequence[Floats], rate_hz: float, hz: float, slowest: float = 1.0) -> Parts:
    """The parts of a stroke of a pitch, each heard on its own."""
    length = round(BLOCK_S * rate_hz)
    size = fast_size(length + round(0.1 * rate_hz))
    spectra = [np.fft.rfft(sound[:length], size) for sound in sounds]
    passed = _high_pass(size, rate_hz, max(90.0, 0.6 * hz))
    short = round(SHORT_S * rate_hz)
    bright = [np.fft.rfft(sound[: round(BRIGHT_S * rate_hz)], BRIGHT_SIZE) for sound in sounds]
    scale = 2.0 / size / length * SCALE_K
    return Parts(
        rate_hz,
        slowest,
        tuple(np.fft.irfft(spectrum * passed, size)[:short] for spectrum in spectra),
        _products(spectra, np.abs(k_weight(size, rate_hz)) ** 2 * scale),
        _products(bright, np.ones(BRIGHT_SIZE // 2 + 1, np.float64)),
        _products(bright, np.asarray(np.fft.rfftfreq(BRIGHT_SIZE, 1.0 / rate_hz), np.float64)),
    )


def _products(spectra: Sequence[Complexes], weights: Floats) -> Floats:
    """Of each two, over all frequencies."""
    result = np.zeros((len(spectra), len(spectra)))
    for one, first in enumerate(spectra):
        weighted = first.conj() * weights
        for other in range(one + 1):
            product = float((weighted * spectra[other]).real.sum())
            result[one, other] = result[other, one] = product
    return result


@lru_cache(maxsize=8)
def _high_pass(size: int, rate_hz: float, edge_hz: float) -> Complexes:
    """Butterworth's of the 4th order by the bilinear transform, over a spectrum's frequencies."""
    places = np.fft.rfftfreq(size, 1.0 / rate_hz)
    tangent = np.tan(math.pi * np.minimum(places, 0.499 * rate_hz) / rate_hz)
    s = 1j * tangent / math.tan(math.pi * edge_hz / rate_hz)
    pairs = (2.0 * math.cos(math.pi * part) for part in (1 / 8, 3 / 8))
    passed = np.asarray(math.prod(s * s / (s * s + damping * s + 1.0) for damping in pairs))
    passed.flags.writeable = False  # it is kept
    return passed
