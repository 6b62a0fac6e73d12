"""What a sound is like: loudness, decay, pitch, end. The builder evens notes out by these.

Conventions: sounds are float arrays; decibels are relative to the sound's own loudest moment unless
named otherwise.
"""

from __future__ import annotations

import math

import numpy as np

from accomp.voice.laplace import Floats

LOUDNESS_S = 0.25  # about as long as the ear adds up
SMOOTH_S = 0.03


def envelope(sound: Floats, rate_hz: int, smooth_s: float = SMOOTH_S) -> Floats:
    """Root of the mean square over a moving, rounded window, whose middle is the moment meant."""
    from scipy.signal import fftconvolve

    window = np.hanning(round(smooth_s * rate_hz) | 1)
    power = fftconvolve(sound**2, window / window.sum(), mode="same")
    return np.asarray(np.sqrt(np.maximum(power, 0.0)))


def fall_s(sound: Floats, rate_hz: int, fall_db: float) -> float:
    """Time in which the envelope falls by `fall_db` for good, from its loudest moment; the whole
    rest when it does not get there.
    """
    level = envelope(sound, rate_hz)
    loudest = int(level.argmax())
    above = np.flatnonzero(level[loudest:] >= level[loudest] * 10.0 ** (-fall_db / 20.0))
    return float(above[-1] + 1) / rate_hz


def loudness(sound: Floats, rate_hz: int) -> float:
    """Mean square of the first quarter second, weighted as ITU-R BS.1770-4 weights (K-weighting).

    The two filters are the recommendation's, given there for 48 kHz.
    """
    part = sound[: round(LOUDNESS_S * rate_hz)]
    size = 2 ** math.ceil(math.log2(2 * part.size))
    spectrum = np.abs(np.fft.rfft(part, size)) ** 2
    z = np.exp(-2j * math.pi * np.fft.rfftfreq(size, 1.0 / rate_hz) / 48000.0)
    shelf = (1.53512485958697 - 2.69169618940638 * z + 1.19839281085285 * z**2) / (
        1.0 - 1.69065929318241 * z + 0.73248077421585 * z**2
    )
    high_pass = (1.0 - 2.0 * z + z**2) / (1.0 - 1.99004745483398 * z + 0.99007225036621 * z**2)
    weighted = spectrum * np.abs(shelf * high_pass) ** 2
    return float(2.0 * weighted.sum() / size / round(LOUDNESS_S * rate_hz))


def pitch_hz(sound: Floats, rate_hz: int, near_hz: float) -> float:
    """Pitch of a plucked note near a frequency, heard from 60 ms on for half a second.

    A bridge that gives way pulls partials some cents apart, so two answers are right: what a tuning
    device shows, where the strong low partials are, and the period after which the sound repeats
    best, to which high partials say more. This lies between them, nearer to the first.
    """
    start, length = round(0.06 * rate_hz), round(0.5 * rate_hz)
    part = sound[start : start + length]
    shown = _by_partials(part, rate_hz, near_hz)
    return (2.0 * shown + _by_repetition(part, rate_hz, near_hz)) / 3.0


def _by_partials(part: Floats, rate_hz: int, near_hz: float) -> float:
    """Mean of the first partials, each over its number, weighted by power."""
    size = 2**18
    power = np.abs(np.fft.rfft(part * np.hanning(part.size), size)) ** 2
    total = weight = 0.0
    for number in range(1, 7):
        low, high = (round(number * near_hz * bend * size / rate_hz) for bend in (0.975, 1.025))
        if high + 1 >= power.size:
            break
        peak = low + int(power[low:high].argmax())
        total += float(power[peak]) * (peak + _vertex(power[peak - 1 : peak + 2])) / number
        weight += float(power[peak])
    return total / weight * rate_hz / size


def _by_repetition(part: Floats, rate_hz: int, near_hz: float) -> float:
    """From the peak of the autocorrelation at some tens of periods."""
    spectrum = np.abs(np.fft.rfft(part, 2 ** math.ceil(math.log2(2 * part.size)))) ** 2
    likeness = np.fft.irfft(spectrum)
    periods = max(round(0.05 * near_hz), 4)
    lag, third = periods * rate_hz / near_hz, rate_hz / near_hz / 3.0
    low = round(lag - third)
    peak = low + int(likeness[low : round(lag + third) + 1].argmax())
    return periods * rate_hz / (peak + _vertex(likeness[peak - 1 : peak + 2]))


def _vertex(values: Floats) -> float:
    """Where the parabola through three neighbours is highest, from the middle one."""
    left, middle, right = (float(value) for value in values)
    bow = left - 2.0 * middle + right
    return 0.5 * (left - right) / bow if bow < 0.0 else 0.0


def cents(hz: float, reference_hz: float) -> float:
    """Interval from the reference, in cents."""
    return 1200.0 * math.log2(hz / reference_hz)
