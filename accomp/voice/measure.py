"""What a sound is like: loudness, decay, pitch, end. The builder evens notes out by these.

Conventions: sounds are float arrays; decibels are relative to the sound's own loudest moment unless
named otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from accomp.voice.laplace import Complexes, Floats
from accomp.voice.numerics import convolved

LOUDNESS_S = 0.25  # about as long as the ear adds up
PEAK_ALIKE = 0.95  # at another pitch or rate, a peak this high may be the highest
CREST_S = 0.4  # one block of ITU-R BS.1770
SCALE_K = 10.0**-0.0691  # the recommendation's −0.691 dB
SMOOTH_S = 0.03
STRIDE = 32  # samples; a decay needs no more


def envelope(sound: Floats, rate_hz: int, smooth_s: float = SMOOTH_S) -> Floats:
    """Root of the mean square over a moving, rounded window, whose middle is the moment meant."""
    window = np.hanning(round(smooth_s * rate_hz) | 1)
    power = convolved(sound**2, window / window.sum())
    return np.asarray(np.sqrt(np.maximum(power, 0.0)))


@dataclass(frozen=True)
class Start:
    """How a note begins: from a tenth to each asked-for part of the highest point of the envelope
    (2 ms) in 60 ms, and from that tenth to the first and the last peak of 80 ms that are as good as
    the highest, in seconds; the highest over the loudness of 0.4 s, in dB.
    """

    attacks_s: tuple[float, ...]
    peaks_s: tuple[float, float]
    crest_db: float


def starts(
    sound: Floats, tap: Floats, rate_hz: int, shares: Iterable[float], highs: Iterable[float]
) -> Iterator[Start]:
    """The start of a sound with each share of a tap mixed in."""
    whole, part, both = _loudnesses(sound, tap, rate_hz)
    window = np.hanning(round(0.002 * rate_hz) | 1)
    window /= window.sum()
    short = round(0.08 * rate_hz)
    tap = np.pad(tap, (0, max(short - tap.size, 0)))[:short]
    for share in shares:
        start = sound[:short] + share * tap
        level = np.sqrt(np.maximum(np.convolve(start**2, window, mode="same"), 0.0))
        rise = level[: round(0.06 * rate_hz)]
        foot = int(np.argmax(rise >= 0.1 * rise.max()))
        tops = [int(np.argmax(rise >= high * rise.max())) for high in highs]
        size = np.abs(start)
        highest = float(size.max())
        peaks = np.flatnonzero(size >= PEAK_ALIKE * highest)
        loud = whole + 2.0 * share * both + share**2 * part
        yield Start(
            tuple((top - foot) / rate_hz for top in tops),
            (int(peaks[0] - foot) / rate_hz, int(peaks[-1] - foot) / rate_hz),
            10.0 * math.log10(highest**2 / loud),
        )


def _loudnesses(one: Floats, other: Floats, rate_hz: int) -> tuple[float, float, float]:
    """K-weighted mean squares over 0.4 s of two sounds, and of one with the other."""
    length = round(CREST_S * rate_hz)
    size = 2 ** math.ceil(math.log2(2 * length))
    weight = _k_weight(size, rate_hz)
    first, second = (np.fft.rfft(sound[:length], size) * weight for sound in (one, other))
    scale = 2.0 / size / length * SCALE_K
    return (
        float((np.abs(first) ** 2).sum()) * scale,
        float((np.abs(second) ** 2).sum()) * scale,
        float((first * second.conj()).real.sum()) * scale,
    )


def centroid_hz(sound: Floats, rate_hz: int) -> float:
    """Mean frequency of the power spectrum of the first quarter second."""
    part = sound[: round(0.25 * rate_hz)]
    power = np.abs(np.fft.rfft(part, 2**15)) ** 2
    return float((power * np.fft.rfftfreq(2**15, 1.0 / rate_hz)).sum() / power.sum())


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


def loudness(sound: Floats, rate_hz: int) -> float:
    """Mean square of the first quarter second, weighted as ITU-R BS.1770-4 weights (K-weighting).

    The two filters are the recommendation's, given there for 48 kHz.
    """
    part = sound[: round(LOUDNESS_S * rate_hz)]
    size = 2 ** math.ceil(math.log2(2 * part.size))
    weighted = np.abs(np.fft.rfft(part, size) * _k_weight(size, rate_hz)) ** 2
    return float(2.0 * weighted.sum() / size / round(LOUDNESS_S * rate_hz))


@lru_cache(maxsize=8)
def _k_weight(size: int, rate_hz: int) -> Complexes:
    """The recommendation's shelf and high-pass over the frequencies of a spectrum."""
    z = np.exp(-2j * math.pi * np.fft.rfftfreq(size, 1.0 / rate_hz) / 48000.0)
    shelf = (1.53512485958697 - 2.69169618940638 * z + 1.19839281085285 * z**2) / (
        1.0 - 1.69065929318241 * z + 0.73248077421585 * z**2
    )
    high_pass = (1.0 - 2.0 * z + z**2) / (1.0 - 1.99004745483398 * z + 0.99007225036621 * z**2)
    return np.asarray(shelf * high_pass)


def pitch_hz(sound: Floats, rate_hz: int, near_hz: float) -> float:
    """Pitch of a plucked note near a frequency, heard from 80 ms on for half a second.

    Stiffness and a bridge that gives way pull partials some cents apart. This is the mean of the
    first eight, each over its number, weighted by power: what a tuning device shows.
    """
    start, length = round(0.08 * rate_hz), round(0.5 * rate_hz)
    part = sound[start : start + length]
    size = 2**18
    power = np.abs(np.fft.rfft(part * np.hanning(part.size), size)) ** 2
    total = weight = 0.0
    for number in range(1, 9):
        low, high = (round(number * near_hz * bend * size / rate_hz) for bend in (0.97, 1.03))
        if high + 1 >= power.size:
            break
        peak = low + int(power[low:high].argmax())
        total += float(power[peak]) * (peak + _vertex(power[peak - 1 : peak + 2])) / number
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
