"""A soft clip: the tops of a sound are rounded off, without new tones above the hearing.

Below the knee nothing changes; above it the wave bends towards a ceiling that it never reaches.
Bending a wave makes overtones, and those over half the sampling rate would come back as false ones
(aliases). So the bend is worked out at four times the rate, and the difference that it makes is
filtered and brought back to the sampling rate. Only the difference is filtered, so that sound under
the knee keeps its bits.

Conventions: amplitudes. The result at a frame depends on 2 * `REACH` frames to each side only.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import numpy as np
import numpy.typing as npt

from accomp.write.audio.loudness import ROUNDING, bend, beyond_line
from accomp.write.audio.spool import Samples, Source

TIMES = 4  # oversampling
REACH = 10  # frames to each side from which a value between samples is made
_PAD = 2 * REACH
_KNEE = 0.75  # of the ceiling: where the bend begins
_BETWEEN = 1.25  # a wave may stand so much higher between samples than at them
_CHUNK = 64
_AT_ONCE = 256  # chunks
_READ = 131_072


def clipped(source: Source, ceiling: float) -> Iterator[Samples]:
    """Blocks of the source, bent under `ceiling`."""
    for start in range(0, source.frames, _READ):
        count = min(_READ, source.frames - start)
        wide = source.read(start - _PAD, count + 2 * _PAD)
        yield bent(wide, ceiling)


def bent(wide: Samples, ceiling: float) -> Samples:
    """The sound without its first and last 2 `REACH` frames, bent under `ceiling`."""
    frames = len(wide) - 2 * _PAD
    answer = wide[_PAD : _PAD + frames].copy()
    knee = _KNEE * ceiling
    if max(wide.max(), -wide.min()) * _BETWEEN <= knee:
        return answer
    chunks = -(-frames // _CHUNK)
    padded = np.zeros((2, (chunks + 1) * _CHUNK), np.float32)  # _CHUNK is more than 2 _PAD
    padded[:, : len(wide)] = wide.T
    tops = _highest(np.maximum(np.abs(padded[0]), np.abs(padded[1])))
    # The wave stands above the line from sample to sample by no more than this.
    beyond = _beyond() * _highest(bend(padded))
    starts = np.flatnonzero((tops * _BETWEEN > knee) & ((tops + beyond) * ROUNDING > knee)) * _CHUNK
    for first in range(0, len(starts), _AT_ONCE):
        some = starts[first : first + _AT_ONCE]
        window = some + np.arange(_CHUNK + 2 * _PAD)[:, None]  # one column a chunk
        places = some + np.arange(_CHUNK)[:, None]
        inside = places < frames
        for side in (0, 1):
            taken = _taken(padded[side][window], knee, ceiling)
            answer[places[inside], side] -= taken[inside]
    return answer


def _highest(values: Samples) -> Samples:
    """The highest value of each chunk and the one after it, into which its window reaches."""
    highest: Samples = values.reshape(-1, _CHUNK).max(axis=1)
    return np.maximum(highest[:-1], highest[1:])


def _taken(windows: Samples, knee: float, ceiling: float) -> Samples:
    """The difference that the bend makes in the middle of each window, shape (frames, windows)."""
    up, down = _responses()
    middle = len(windows) - 2 * REACH  # frames that the bend is worked out for
    frames = middle - 2 * REACH
    total = np.zeros((frames, windows.shape[1]), np.float32)
    part = np.empty((middle, windows.shape[1]), np.float32)
    room = np.float32(ceiling - knee)
    for phase in range(TIMES):
        if phase:
            wave = np.zeros_like(part)
            for tap in range(2 * REACH + 1):
                if up[phase, tap]:
                    wave += np.multiply(windows[tap : tap + middle], up[phase, tap], out=part)
        else:
            wave = windows[REACH : REACH + middle].copy()
        over = np.maximum(np.abs(wave) - np.float32(knee), 0)
        over = np.sign(wave) * (over - room * np.tanh(over / room))
        for tap in range(2 * REACH + 1):
            if down[phase, tap]:
                some = over[tap : tap + frames]
                total += np.multiply(some, down[phase, tap], out=part[:frames])
    return total


@cache
def _beyond() -> float:
    up, _ = _responses()
    return beyond_line(up[1:], np.arange(-REACH, REACH + 1))


@cache
def _responses() -> tuple[npt.NDArray[np.float32], npt.NDArray[np.float32]]:
    """Up and down, shape (phases, 2 REACH + 1): one windowed sinc, read from both sides.

    Up: the value at n + phase / 4 from samples n - REACH ... n + REACH. Down: the low-passed value
    at n from those at n - REACH + phase / 4 ... and so on.
    """
    taps = np.arange(-REACH, REACH + 1)
    phases = np.arange(TIMES)[:, None] / TIMES

    def sinc(away: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        window = np.cos(np.pi * away / (2 * REACH + 1)) ** 2
        return np.where(np.abs(away) <= REACH + 0.5, np.sinc(away) * window, 0.0)

    up, down = sinc(taps - phases), sinc(taps + phases)
    up /= up.sum(axis=1, keepdims=True)
    down /= down.sum()
    return up.astype(np.float32), down.astype(np.float32)
