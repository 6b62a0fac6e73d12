"""The start of strokes, for many mixtures of the same sounds: attack, highest peak, brightness.

A stroke is a weighted sum of parts: the swings along the face and towards it, a rest that does not
depend on the direction, and knocks. Each part is analysed once. Inner products of the parts give
the loudness and the centroid of any sum, a short stretch of each part gives the attack and the
peak. So a hundred mixtures cost little more than one.

Attack and peak are those of the sound high-passed at 90 Hz or 0.6 of the pitch, whichever is higher
(Butterworth, 4th order); the loudness is K-weighted over 0.4 s.

Conventions: a sample sounds on several keys, at different playback rates. `rate_hz` is the highest
of them, `slowest` the lowest over the highest. Times in seconds.
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

SHORT_S = 0.085  # kept of each part: the peak lies in its first 80 ms, the rise in 60 ms
PEAKS_S, RISE_S = 0.08, 0.06
SMOOTH_S = 0.002
STRIDE = 4  # samples: time resolution of the envelope
HIGHS = (0.85, 0.96)  # shares of the envelope's maximum, around 0.9, that bound the attack
ALIKE = 0.95  # at another playback rate a peak this high may be the highest


@dataclass(frozen=True, slots=True)
class Start:
    """The start of a note over all keys that play it: the shortest and the longest attack (from a
    tenth to about nine tenths of the envelope's maximum), the earliest and the latest time from
    that tenth to a peak about as high as the highest, the highest peak over the loudness in dB,
    and the spectral centroid in hertz.
    """

    attacks_s: tuple[float, float]
    peaks_s: tuple[float, float]
    crest_db: float
    centroid_hz: float


@dataclass(frozen=True)
class Parts:
    """The analysed parts of strokes, for weighted sums of them."""

    rate_hz: float
    slowest: float
    heads: tuple[Floats, ...]
    loud: Floats  # K-weighted inner products of each two parts
    power: Floats  # inner products of each two parts, and the same weighted by frequency
    power_hz: Floats

    def start(self, weights: Sequence[float]) -> Start:
        """The start of the sum of the parts, each times its weight."""
        return self.parts_sum(weights).start(())

    def parts_sum(self, weights: Sequence[float]) -> PartsSum:
        """The weighted sum of the first parts, as many as there are weights."""
        return PartsSum(self, tuple(weights), self._sum(weights, self.heads))

    @staticmethod
    def _sum(weights: Sequence[float], heads: Sequence[Floats]) -> Floats | float:
        return sum(weight * head for weight, head in zip(weights, heads, strict=False) if weight)


@dataclass(frozen=True)
class PartsSum:
    """The weighted sum of the first parts, for many sums that differ only in the others."""

    parts: Parts
    weights: tuple[float, ...]
    sound: Floats | float

    def glance(self, number: int, shares: Floats) -> tuple[Floats, Floats]:
        """For each weight in `shares` of the other part `number`: a lower bound of the peak over
        the loudness in dB, and the centroid in hertz; up to rounding they agree with `start`.
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
        """The start of the sum with the other parts, each times its weight."""
        rate_hz, sound = self.parts.rate_hz, self.sound
        for weight, head in zip(weights, self.parts.heads[len(self.weights) :], strict=True):
            if weight:
                sound = sound + weight * head
        sound = np.asarray(sound)
        level = self._envelope(sound)
        rise = level[: round(RISE_S * rate_hz / STRIDE)]
        highest = rise.max()
        foot = int(np.argmax(rise >= 0.1 * highest))
        first, last = (int(np.argmax(rise >= high * highest)) - foot for high in HIGHS)
        begin = foot * STRIDE
        magnitude = np.abs(sound[: begin + round(PEAKS_S * rate_hz)])
        top = float(magnitude.max())
        tops = np.flatnonzero(magnitude >= ALIKE * top) - begin
        slow_hz = rate_hz * self.parts.slowest
        all_weights = np.array((*self.weights, *weights))
        pair_weights = all_weights[:, None] * all_weights  # the weight of each product of two parts
        return Start(
            (first * STRIDE / rate_hz, last * STRIDE / slow_hz),
            (int(tops[0]) / rate_hz, int(tops[-1]) / slow_hz),
            10.0 * math.log10(top**2 / float((self.parts.loud * pair_weights).sum())),
            float(
                (self.parts.power_hz * pair_weights).sum() / (self.parts.power * pair_weights).sum()
            ),
        )

    def _envelope(self, sound: Floats) -> Floats:
        """The envelope of the part of a sound in which it rises, one value for `STRIDE` samples."""
        window = rounded(round(SMOOTH_S * self.parts.rate_hz / STRIDE) | 1)
        count = round(RISE_S * self.parts.rate_hz / STRIDE) + window.size
        power = np.square(sound[: min(count, sound.size // STRIDE) * STRIDE])
        summed = power[::STRIDE] + power[1::STRIDE]
        for number in range(2, STRIDE):
            summed += power[number::STRIDE]
        return np.sqrt(np.maximum(np.convolve(summed, window, mode="same"), 0.0))


def heard(sounds: Sequence[Floats], rate_hz: float, hz: float, slowest: float = 1.0) -> Parts:
    """Analyse the parts of a stroke whose pitch is `hz`."""
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
    """Weighted inner products of each two spectra: a symmetric matrix."""
    result = np.zeros((len(spectra), len(spectra)))
    for one, first in enumerate(spectra):
        weighted = first.conj() * weights
        for other in range(one + 1):
            product = float((weighted * spectra[other]).real.sum())
            result[one, other] = result[other, one] = product
    return result


@lru_cache(maxsize=8)
def _high_pass(size: int, rate_hz: float, edge_hz: float) -> Complexes:
    """A Butterworth high-pass of 4th order by the bilinear transform, over the real FFT's bins."""
    places = np.fft.rfftfreq(size, 1.0 / rate_hz)
    tangent = np.tan(math.pi * np.minimum(places, 0.499 * rate_hz) / rate_hz)
    s = 1j * tangent / math.tan(math.pi * edge_hz / rate_hz)
    pairs = (2.0 * math.cos(math.pi * part) for part in (1 / 8, 3 / 8))
    passed = np.asarray(math.prod(s * s / (s * s + damping * s + 1.0) for damping in pairs))
    passed.flags.writeable = False  # it is cached
    return passed
