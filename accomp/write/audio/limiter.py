"""A limiter that looks ahead: no true peak above the ceiling, no step in the gain.

From the gain that each frame needs comes a gain that recovers slowly after every need; that is held
over the frames before it (a moving minimum) and averaged over as many, so that the gain glides down
in time. An average of values none of which is above the need is not above it either. Both channels
get the same gain, so that nothing moves sideways.

Conventions: amplitudes, not dB, unless the name says so. The result at a frame depends on `BEFORE`
frames before it and `AFTER` frames after it only.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from accomp.write.audio.loudness import REACH, peaks
from accomp.write.audio.spool import Sound, Source

CEILING = 10 ** (-1.1 / 20)  # a tenth below the promise of -1 dBTP, for what interpolation misses
REDUCTION_MOST_DB = 4.5
_AHEAD = 96  # frames over which the gain glides down: 2 ms at 44,100 Hz
_RECOVERY = 1_764  # frames in which it comes back to 1/e of what was taken: 40 ms
_MEMORY = 16 * _RECOVERY  # after which nothing is left of it: e^-16 of 4.5 dB
BEFORE = _MEMORY + _AHEAD + REACH
AFTER = _AHEAD + REACH
_BLOCK = 131_072

_Curve = npt.NDArray[np.float64]


def limited(source: Source, gain: float, ceiling: float = CEILING) -> Iterator[tuple[Sound, float]]:
    """Blocks of `source` times `gain` under `ceiling`, each with its lowest limiter gain."""
    for start in range(0, source.frames, _BLOCK):
        count = min(_BLOCK, source.frames - start)
        wide = source.read(start - BEFORE, BEFORE + count + AFTER) * np.float32(gain)
        block = wide[BEFORE : BEFORE + count]
        tops = peaks(wide, ceiling)
        over = np.flatnonzero(tops > ceiling)
        if len(over) == 0:
            yield block, 1.0
            continue
        need = ceiling / tops[over].astype(np.float64)
        curve = _glide(_recovering(len(tops), over, need))[_MEMORY:]
        for side in block.T:
            np.multiply(side, curve, out=side, casting="same_kind")
        yield block, float(curve.min())


def _recovering(frames: int, over: npt.NDArray[np.intp], need: _Curve) -> _Curve:
    """The gain at each frame: the need of those `over`, or what is left of an earlier one,
    exponentially less.

    The recursion taken[n] = max(need[n], taken[n - 1] * e^(-1/recovery)) as one running maximum:
    multiplied by e^(n/recovery), here in logarithms, it forgets nothing.
    """
    steps = np.arange(frames) / _RECOVERY
    left = np.full(frames, -np.inf)
    with np.errstate(divide="ignore"):
        left[over] = np.log(1 - need) + steps[over]
    np.maximum.accumulate(left, out=left)
    left -= steps
    np.exp(left, out=left)
    gain: _Curve = np.subtract(1, left, out=left)
    return gain


def _glide(gain: _Curve) -> _Curve:
    """`gain` without its first and last `_AHEAD` frames, reached by gliding ahead of time."""
    held = _moving_minimum(gain, _AHEAD + 1)
    half = _AHEAD // 2 + 1
    return _running_mean(_running_mean(held, half), half)  # together a triangle of _AHEAD + 1


def _running_mean(values: _Curve, stretch: int) -> _Curve:
    """The mean of each `stretch` neighbours."""
    total = np.zeros(len(values) + 1)
    np.cumsum(values, out=total[1:])
    mean: _Curve = total[stretch:] - total[:-stretch]
    mean /= stretch
    return mean


def _moving_minimum(values: _Curve, stretch: int) -> _Curve:
    """The minimum of each `stretch` neighbours, from those of 2, 4, 8 and so on."""
    least, of = values, 1
    while 2 * of <= stretch:
        least = np.minimum(least[:-of], least[of:])
        of *= 2
    count = len(values) - stretch + 1
    return np.minimum(least[:count], least[stretch - of : stretch - of + count])
