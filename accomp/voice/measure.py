"""Measures of a sound: envelope, brightness, decay, loudness, pitch.

Conventions: sounds are float arrays of one dimension.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from accomp.voice.laplace import Complexes, Floats
from accomp.voice.numerics import convolved, rounded

LOUDNESS_S = 0.25  # about the ear's integration time
BLOCK_S = 0.4  # one block of ITU-R BS.1770
BRIGHT_S, BRIGHT_SIZE = 0.25, 2**15
SCALE_K = 10.0**-0.0691  # the recommendation's −0.691 dB
SMOOTH_S = 0.03
STRIDE = 32  # samples: time resolution of a decay


def envelope(sound: Floats, rate_hz: int, smooth_s: float = SMOOTH_S) -> Floats:
    """Root mean square under a moving Hann window, centred on each sample: as long as the sound."""
    window = rounded(round(smooth_s * rate_hz) | 1)
    power = convolved(sound**2, window / window.sum())
    return np.asarray(np.sqrt(np.maximum(power, 0.0)))


def centroid_hz(sound: Floats, rate_hz: int) -> float:
    """Spectral centroid of the first quarter second, in hertz, weighted by power."""
    power = np.abs(np.fft.rfft(sound[: round(BRIGHT_S * rate_hz)], BRIGHT_SIZE)) ** 2
    hz = np.fft.rfftfreq(BRIGHT_SIZE, 1.0 / rate_hz)
    return float((power * hz).sum() / power.sum())


def fall_s(sound: Floats, rate_hz: int, fall_db: float) -> float:
    """Time in seconds until the remaining energy is `fall_db` below the whole (Schroeder, JASA 37,
    1965, 409). For an exponential decay the level falls by as much in this time, and beats hardly
    change it.
    """
    power, times = _stretch_energies(sound, rate_hz)
    return _fall_time_s(power, times, fall_db)


def damping(sound: Floats, rate_hz: int, fall_db: float, wanted_s: float) -> float:
    """The rate α (1/s) with which exp(−αt) makes a sound fall by `fall_db` in `wanted_s`, found by
    bisection.

    A negative rate makes a sound ring longer. It is limited to a fifth of the rate of the wanted
    decay, so that no part of the sound grows.
    """
    power, times = _stretch_energies(sound, rate_hz)
    rate = fall_db / 20.0 * math.log(10.0) / wanted_s
    low, high = -0.2 * rate, 2.0 * rate
    for _ in range(20):
        middle = (low + high) / 2.0
        if _fall_time_s(power * np.exp(-2.0 * middle * times), times, fall_db) > wanted_s:
            low = middle
        else:
            high = middle
    return high


def _stretch_energies(sound: Floats, rate_hz: int) -> tuple[Floats, Floats]:
    """Energy of each stretch of `STRIDE` samples, and the time in seconds at which it begins."""
    count = sound.size // STRIDE
    power = np.square(sound[: count * STRIDE]).reshape(count, STRIDE).sum(axis=1)
    times = np.arange(count) * (STRIDE / rate_hz)
    return np.asarray(power, np.float64), np.asarray(times, np.float64)


def _fall_time_s(power: Floats, times: Floats, fall_db: float) -> float:
    left = np.cumsum(power[::-1])[::-1]
    return float(times[np.flatnonzero(left >= left[0] * 10.0 ** (-fall_db / 10.0))[-1]])


def loudness(sound: Floats, rate_hz: float, length_s: float = LOUDNESS_S) -> float:
    """K-weighted mean square (ITU-R BS.1770-4) of the first `length_s` seconds."""
    count = round(length_s * rate_hz)
    part = sound[:count]
    size = 2 ** math.ceil(math.log2(2 * part.size))
    weighted = np.abs(np.fft.rfft(part, size) * k_weight(size, rate_hz)) ** 2
    return float(2.0 * weighted.sum() / size / count)


@lru_cache(maxsize=32)
def k_weight(size: int, rate_hz: float) -> Complexes:
    """The K-weighting at a real FFT's frequencies, with the coefficients given for 48 kHz."""
    z = np.exp(-2j * math.pi * np.fft.rfftfreq(size, 1.0 / rate_hz) / 48000.0)
    shelf = (1.53512485958697 - 2.69169618940638 * z + 1.19839281085285 * z**2) / (
        1.0 - 1.69065929318241 * z + 0.73248077421585 * z**2
    )
    high_pass = (1.0 - 2.0 * z + z**2) / (1.0 - 1.99004745483398 * z + 0.99007225036621 * z**2)
    return np.asarray(shelf * high_pass)


def pitch_hz(sound: Floats, rate_hz: float, near_hz: float) -> float:
    """Pitch in hertz of a plucked note near a frequency, from half a second after its first 80 ms.

    A stiff string and a yielding bridge shift partials by some cents. This is the mean of the first
    eight partials, each divided by its number, weighted by power: about what a tuner shows.
    """
    start, length = round(0.08 * rate_hz), round(0.5 * rate_hz)
    part = sound[start : start + length]
    size = 2**16
    power = np.abs(np.fft.rfft(part * rounded(part.size), size)) ** 2
    total = weight = 0.0
    for number in range(1, 9):
        low, high = (round(number * near_hz * bend * size / rate_hz) for bend in (0.97, 1.03))
        if high + 1 >= power.size:
            break
        peak = low + int(power[low:high].argmax())
        total += float(power[peak]) * (peak + _vertex(np.log(power[peak - 1 : peak + 2]))) / number
        weight += float(power[peak])
    return total / weight * rate_hz / size


def _vertex(values: Floats) -> float:
    """Place of the vertex of the parabola through three neighbours, counted from the middle one."""
    left, middle, right = (float(value) for value in values)
    bow = left - 2.0 * middle + right
    return 0.5 * (left - right) / bow if bow < 0.0 else 0.0


def cents(hz: float, reference_hz: float) -> float:
    """Interval from the reference, in cents."""
    return 1200.0 * math.log2(hz / reference_hz)
