"""How loud sound is: integrated loudness and true peak after ITU-R BS.1770-4, in little memory.

Both stages of the K-weighting are put into one finite response and applied by Fourier transform:
SciPy's import alone would take longer than measuring a tune.

Conventions: loudness in LUFS (dB with K-weighting against full scale), -inf for silence; gating
blocks of 400 ms every 100 ms, absolute gate -70 LUFS, relative gate -10 LU. Sound shorter than one
block counts as if silence followed it. The tests hold it against pyloudnorm.

True peak is the highest level of the wave, between the samples too, in dBTP (dB against full
scale). It is found by oversampling four times with a windowed sinc, as annex 2 asks: between
samples n and n + 1 at n + 1/4, n + 1/2 and n + 3/4.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt

from accomp.write.audio.room import biquad, convolved
from accomp.write.audio.spool import Samples, Source

_OFFSET = -0.691  # BS.1770-4, annex 1
_ABSOLUTE_GATE, _RELATIVE_GATE = -70.0, -10.0
_K_TAPS = 4_096  # at 44.1 kHz the high-pass has fallen by 190 dB there

# The analogue parameters that give the standard's table of coefficients for 48 kHz, found by
# solving the bilinear transform (published in the same form with several free meters): frequency
# in Hz, quality, gain in dB of the high shelf; frequency and quality of the high-pass.
_SHELF = (1681.974450955533, 0.7071752369554196, 3.999843853973347)
_HIGH_PASS = (38.13547087602444, 0.5003270373238773)


def loudness_lufs(source: Source, sample_rate: int) -> float:
    """Integrated loudness of stereo sound; -inf when nothing passes the gates."""
    return lufs_of(hop_energies(source, sample_rate), source.frames, sample_rate)


def hop_energies(source: Source, sample_rate: int) -> npt.NDArray[np.float64]:
    """The K-weighted energy of each whole 100 ms, both channels together.

    The energies of sounds that do not correlate may be added up.
    """
    hop = sample_rate // 10
    sums: list[npt.NDArray[np.float64]] = []
    rest = np.zeros(0, np.float32)
    for block in convolved(source, _k_response(sample_rate)):
        squares = np.square(block)
        energy = np.concatenate([rest, squares[:, 0] + squares[:, 1]])
        whole = len(energy) // hop * hop
        sums.append(energy[:whole].reshape(-1, hop).sum(axis=1, dtype=np.float64))
        rest = energy[whole:]
    return np.concatenate(sums)


def lufs_of(energies: npt.NDArray[np.float64], frames: int, sample_rate: int) -> float:
    """Integrated loudness of a sound of so many frames; -inf when nothing passes the gates."""
    hop = sample_rate // 10
    hops = energies[: frames // hop]
    if len(hops) < 4:  # shorter than a block: the rest of one block is silent
        return _integrated(np.array([sum(map(float, energies[:4]))]) / (4 * hop))
    return _integrated(np.convolve(hops, np.ones(4), "valid") / (4 * hop))


def _integrated(power: npt.NDArray[np.float64]) -> float:
    """Loudness of blocks' mean squares (both channels added), gated twice."""
    with np.errstate(divide="ignore"):
        loudness = _OFFSET + 10 * np.log10(power)
    heard = loudness >= _ABSOLUTE_GATE
    if not heard.any():
        return -np.inf
    relative = _OFFSET + 10 * np.log10(power[heard].mean()) + _RELATIVE_GATE
    return float(_OFFSET + 10 * np.log10(power[heard & (loudness > relative)].mean()))


@cache
def _k_response(sample_rate: int) -> npt.NDArray[np.float64]:
    """The response to a click of both stages of the K-weighting."""
    click = np.zeros(_K_TAPS)
    click[0] = 1.0
    return biquad(biquad(click, *_high_shelf(sample_rate)), *_high_pass(sample_rate))


_Coefficients = tuple[float, float, float]


def _high_shelf(sample_rate: int) -> tuple[_Coefficients, _Coefficients]:
    frequency, quality, gain_db = _SHELF
    k = np.tan(np.pi * frequency / sample_rate)
    high = 10 ** (gain_db / 20)
    middle = high**0.4996667741545416
    a0 = 1 + k / quality + k * k
    top = (high + middle * k / quality + k * k, 2 * (k * k - high))
    return (
        (top[0] / a0, top[1] / a0, (high - middle * k / quality + k * k) / a0),
        (1.0, 2 * (k * k - 1) / a0, (1 - k / quality + k * k) / a0),
    )


def _high_pass(sample_rate: int) -> tuple[_Coefficients, _Coefficients]:
    frequency, quality = _HIGH_PASS
    k = np.tan(np.pi * frequency / sample_rate)
    a0 = 1 + k / quality + k * k
    return (1.0, -2.0, 1.0), (1.0, 2 * (k * k - 1) / a0, (1 - k / quality + k * k) / a0)


REACH = 12  # samples to each side from which a value between samples is made
_TAPS = np.arange(-REACH + 1, REACH + 1)
_CHUNK = 64
ROUNDING = 1.0001  # more than the rounding error of single precision in a bound
_READ = 131_072


def true_peak(source: Source) -> float:
    """The highest absolute value of the wave, both channels; 0 for silence."""
    greatest = 0.0
    for start in range(0, source.frames, _READ):
        count = min(_READ, source.frames - start)
        block = source.read(start - REACH, count + 2 * REACH)
        greatest = max(greatest, float(np.abs(block).max()))  # so that little is interpolated
        greatest = max(greatest, float(peaks(block, greatest).max()))
    return greatest


def decibels(value: float) -> float:
    """An amplitude in dB against 1; -inf for 0."""
    return 20 * float(np.log10(value)) if value > 0 else -np.inf


def peaks(block: Samples, above: float) -> Samples:
    """For each frame the peak at it and up to the next frame, of the higher channel.

    `block` has `REACH` frames more at both ends than the answer: shapes (frames + 2 REACH, 2) and
    (frames,). The answer is exact where it exceeds `above`; where the wave cannot exceed `above`
    between samples, it is the sample's own value.
    """
    level = np.maximum(np.abs(block[:, 0]), np.abs(block[:, 1]))
    frames = len(block) - 2 * REACH
    answer = level[REACH : REACH + frames].copy()
    busy = np.flatnonzero(_may_exceed(block, level, above)) * _CHUNK
    if len(busy) == 0:
        return answer
    padded = np.zeros((2, len(block) + _CHUNK), np.float32)
    padded[:, : len(block)] = block.T
    # One column a chunk, so that each operation works on memory in one piece.
    window = busy + np.arange(_CHUNK + 2 * REACH)[:, None]
    highest = np.zeros((_CHUNK, len(busy)), np.float32)
    between, part = np.empty_like(highest), np.empty_like(highest)
    for side in padded:
        around = side[window]
        for response in _weights():
            between[:] = 0
            # Added tap by tap: a matrix product would be shared out among threads by the
            # library behind numpy, which costs more than it saves where other jobs run.
            for tap, weight in enumerate(response, 1):
                np.multiply(around[tap : tap + _CHUNK], weight, out=part)
                between += part
            np.maximum(highest, np.abs(between, out=between), out=highest)
    places = busy + np.arange(_CHUNK)[:, None]
    inside = places < frames
    answer[places[inside]] = np.maximum(answer[places[inside]], highest[inside])
    return answer


def _may_exceed(block: Samples, level: Samples, above: float) -> npt.NDArray[np.bool_]:
    """For each chunk of frames whether the wave may exceed `above` between samples.

    Two bounds say so. An interpolated value is at most the highest sample times the sum of the
    weights' absolute values. And it is a line from sample to sample plus a weighted sum of second
    differences, which are small except for the highest tones (`beyond_line`).
    """
    of_samples, beyond = _bounds()
    starts = np.arange(0, len(block) - 2 * REACH, _CHUNK)
    tops = _highest(level, starts)
    may = tops * of_samples > above
    if may.any():
        may &= (tops + beyond * _highest(bend(block.T), starts)) * ROUNDING > above
    return may


def _highest(values: Samples, starts: npt.NDArray[np.intp]) -> Samples:
    """The highest value of each chunk and the next one, into which its window reaches."""
    after = np.maximum.reduceat(values, np.minimum(starts + _CHUNK, len(values) - 1))
    highest: Samples = np.maximum(np.maximum.reduceat(values, starts), after)
    return highest


def bend(sides: Samples) -> Samples:
    """How much sound bends at each frame: the second difference of the channel where it is highest,
    0 at both ends; `sides` has shape (2, frames)."""
    highest = np.zeros(sides.shape[1], np.float32)
    for side in sides:
        np.maximum(highest[1:-1], np.abs(np.diff(np.diff(side))), out=highest[1:-1])
    return highest


def beyond_line(responses: npt.NDArray[np.float32], taps: npt.NDArray[np.intp]) -> float:
    """The most by which an interpolated value stands above the line from sample to sample, as a
    multiple of the highest second difference.

    `responses` has a row for each phase between sample 0 and 1, with weights of the samples `taps`.
    Less the line that has its sum and first moment, a response has sum and first moment 0; it is
    then the second difference of its twice running sum.
    """
    beyond = responses.astype(np.float64)
    moments = beyond @ taps
    beyond[:, taps == 0] -= 1 - moments[:, None]
    beyond[:, taps == 1] -= moments[:, None]
    return float(np.abs(np.cumsum(np.cumsum(beyond, axis=1), axis=1)).sum(axis=1).max())


@cache
def _bounds() -> tuple[float, float]:
    """The most that a value between samples is, as a multiple of the highest sample; and
    `beyond_line`."""
    return float(np.abs(_weights()).sum(axis=1).max()), beyond_line(_weights(), _TAPS)


@cache
def _weights() -> npt.NDArray[np.float32]:
    """Three responses, shape (3, 2 REACH), for the samples n - REACH + 1 ... n + REACH."""
    away = _TAPS - np.array([[0.25], [0.5], [0.75]])
    responses = np.sinc(away) * np.cos(np.pi * away / (2 * REACH + 1)) ** 2
    responses /= responses.sum(axis=1, keepdims=True)
    return np.asarray(responses, np.float32)
