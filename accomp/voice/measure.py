"""What a sound is like: loudness, decay, pitch, end. The builder evens notes out by these.

Conventions: sounds are float arrays; decibels are relative to the sound's own loudest moment unless
named otherwise.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from accomp.voice.laplace import Complexes, Floats
from accomp.voice.numerics import convolved, rounded

LOUDNESS_S = 0.25  # about as long as the ear adds up
BLOCK_S = 0.4  # one block of ITU-R BS.1770
BRIGHT_S, BRIGHT_SIZE = 0.25, 2**15
SCALE_K = 10.0**-0.0691  # the recommendation's −0.691 dB
SMOOTH_S = 0.03
STRIDE = 32  # samples; a decay needs no more


def envelope(sound: Floats, rate_hz: int, smooth_s: float = SMOOTH_S) -> Floats:
    """Root of the mean square over a moving, rounded window, whose middle is the moment meant."""
    window = rounded(round(smooth_s * rate_hz) | 1)
    power = convolved(sound**2, window / window.sum())
    return np.asarray(np.sqrt(np.maximum(power, 0.0)))


def centroid_hz(sound: Floats, rate_hz: int) -> float:
    """Mean frequency of the power spectrum of the first quarter second."""
    power = np.abs(np.fft.rfft(sound[: round(BRIGHT_S * rate_hz)], BRIGHT_SIZE)) ** 2
    hz = np.fft.rfftfreq(BRIGHT_SIZE, 1.0 / rate_hz)
    return float((power * hz).sum() / power.sum())


def fall_s(sound: Floats, rate_hz: int, fall_db: float) -> float:
    """Time until the energy still to come is `fall_db` below all of it (Schroeder, JASA 37, 1965,
    409): for an even decay the time in which the level falls by as much, and beats do not move it.
    """
    power, times = _power(sound, rate_hz)
    return _fall(power, times, fall_db)


def damping(sound: Floats, rate_hz: int, fall_db: float, wanted_s: float) -> float:
    """The rate α (1/s) at which exp(−αt) makes a sound fall by `fall_db` in `wanted_s`.

    By halving. Below zero it lets a sound ring longer, by at most a fifth of the rate asked for, so
    that nothing can grow.
    """
    power, times = _power(sound, rate_hz)
    rate = fall_db / 20.0 * math.log(10.0) / wanted_s
    low, high = -0.2 * rate, 2.0 * rate
    for _ in range(20):
        middle = (low + high) / 2.0
        if _fall(power * np.exp(-2.0 * middle * times), times, fall_db) > wanted_s:
            low = middle
        else:
            high = middle
    return high


def _power(sound: Floats, rate_hz: int) -> tuple[Floats, Floats]:
    """Energy of short stretches, and when each begins in seconds."""
    count = sound.size // STRIDE
    power = np.square(sound[: count * STRIDE]).reshape(count, STRIDE).sum(axis=1)
    times = np.arange(count) * (STRIDE / rate_hz)
    return np.asarray(power, np.float64), np.asarray(times, np.float64)


def _fall(power: Floats, times: Floats, fall_db: float) -> float:
    left = np.cumsum(power[::-1])[::-1]
    return float(times[np.flatnonzero(left >= left[0] * 10.0 ** (-fall_db / 10.0))[-1]])


def loudness(sound: Floats, rate_hz: float, length_s: float = LOUDNESS_S) -> float:
    """Mean square of the first quarter second, weighted as ITU-R BS.1770-4 weights (K-weighting).

    The two filters are the recommendation's, given there for 48 kHz.
    """
    count = round(length_s * rate_hz)
    part = sound[:count]
    size = 2 ** math.ceil(math.log2(2 * part.size))
    weighted = np.abs(np.fft.rfft(part, size) * k_weight(size, rate_hz)) ** 2
    return float(2.0 * weighted.sum() / size / count)


@lru_cache(maxsize=32)
def k_weight(size: int, rate_hz: float) -> Complexes:
    """The recommendation's shelf and high-pass over the frequencies of a spectrum."""
    z = np.exp(-2j * math.pi * np.fft.rfftfreq(size, 1.0 / rate_hz) / 48000.0)
    shelf = (1.53512485958697 - 2.69169618940638 * z + 1.19839281085285 * z**2) / (
        1.0 - 1.69065929318241 * z + 0.73248077421585 * z**2
    )
    high_pass = (1.0 - 2.0 * z + z**2) / (1.0 - 1.99004745483398 * z + 0.99007225036621 * z**2)
    return np.asarray(shelf * high_pass)


def pitch_hz(sound: Floats, rate_hz: float, near_hz: float) -> float:
    """Pitch of a plucked note near a frequency, heard from 80 ms on for half a second.

    Stiffness and a bridge that gives way pull partials some cents apart. This is the mean of the
    first eight, each over its number, weighted by power: what a tuning device shows.
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
    """Where the parabola through three neighbours is highest, from the middle one."""
    left, middle, right = (float(value) for value in values)
    bow = left - 2.0 * middle + right
    return 0.5 * (left - right) / bow if bow < 0.0 else 0.0


def cents(hz: float, reference_hz: float) -> float:
    """Interval from the reference, in cents."""
    return 1200.0 * math.log2(hz / reference_hz)
