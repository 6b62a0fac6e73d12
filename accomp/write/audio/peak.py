"""True peak: how high the wave goes between the samples too.

Conventions: levels in dBTP (dB against full scale, true peak). Four times oversampled by a windowed
sinc, as ITU-R BS.1770-4 annex 2 asks; between samples n and n + 1 stand the quarters n + 1/4, 1/2,
3/4.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt

from accomp.write.audio.spool import Sound, Source

REACH = 12  # samples to each side that a value between samples is made from
_CHUNK = 64
_READ = 131_072


def true_peak(source: Source) -> float:
    """The highest absolute value of the wave, both channels; 0 for silence."""
    greatest = 0.0
    for start in range(0, source.frames, _READ):
        count = min(_READ, source.frames - start)
        block = source.read(start - REACH, count + 2 * REACH)
        greatest = max(greatest, float(np.abs(block).max()))  # leaves little to interpolate
        greatest = max(greatest, float(peaks(block, greatest).max()))
    return greatest


def decibels(value: float) -> float:
    """An amplitude in dB against 1; -inf for 0."""
    return 20 * float(np.log10(value)) if value > 0 else -np.inf


def peaks(block: Sound, above: float) -> Sound:
    """For each frame the peak at it and on the way to the next, the higher channel.

    `block` has `REACH` frames more at both ends than are answered for, shape (frames + 2 REACH, 2);
    the answer has shape (frames,). It is exact where it exceeds `above`; where the wave cannot
    exceed that between samples, the sample's own value stands.
    """
    level = np.maximum(np.abs(block[:, 0]), np.abs(block[:, 1]))
    frames = len(block) - 2 * REACH
    answer = level[REACH : REACH + frames].copy()
    weights = _weights()
    bound = float(np.abs(weights).sum(axis=1).max())  # what interpolation can add at the very most
    starts = np.arange(0, frames, _CHUNK)
    tops = np.maximum.reduceat(level, starts)
    after = np.maximum.reduceat(level, np.minimum(starts + _CHUNK, len(level) - 1))
    busy = starts[np.maximum(tops, after) * bound > above]
    if len(busy) == 0:
        return answer
    padded = np.concatenate([block, np.zeros((_CHUNK, 2), np.float32)])
    window = busy[:, None] + np.arange(_CHUNK + 2 * REACH)
    highest = np.zeros((len(busy), _CHUNK), np.float32)
    for side in (0, 1):
        around = padded[:, side][window]
        for response in weights:
            between = np.zeros_like(highest)
            # Added tap by tap: a matrix product would be shared out among threads by the
            # library behind numpy, which costs more than it saves where other jobs run.
            for tap, weight in enumerate(response):
                between += weight * around[:, tap + 1 : tap + 1 + _CHUNK]
            np.maximum(highest, np.abs(between, out=between), out=highest)
    places = busy[:, None] + np.arange(_CHUNK)
    inside = places < frames
    answer[places[inside]] = np.maximum(answer[places[inside]], highest[inside])
    return answer


@cache
def _weights() -> npt.NDArray[np.float32]:
    """Three responses, shape (3, 2 REACH), from the samples n - REACH + 1 ... n + REACH."""
    taps = np.arange(-REACH + 1, REACH + 1)
    away = taps - np.array([[0.25], [0.5], [0.75]])
    responses = np.sinc(away) * np.cos(np.pi * away / (2 * REACH + 1)) ** 2
    responses /= responses.sum(axis=1, keepdims=True)
    return np.asarray(responses, np.float32)
