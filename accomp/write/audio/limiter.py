"""A limiter that looks ahead: no true peak above the ceiling, no step in the gain.

First comes the gain that each frame needs to stay under the ceiling, with a slow recovery after it.
A moving minimum holds this gain over the frames before it as well, and a moving average over as
many frames makes it glide down in time. All values in the average are at most the gain that is
needed, so the average is too. Both channels get the same gain, so that nothing moves sideways.

Conventions: amplitudes, not dB, unless the name says so. The result at a frame depends on `BEFORE`
frames before it and `AFTER` frames after it only.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from accomp.write.audio.loudness import REACH, peaks
from accomp.write.audio.spool import Samples, Source

CEILING = 10 ** (-1.1 / 20)  # 0.1 dB below the promised -1 dBTP: interpolation is not exact
REDUCTION_MOST_DB = 4.5
_AHEAD = 96  # frames over which the gain glides down: 2 ms at 44,100 Hz
_RECOVERY = 1_764  # frames after which 1/e of the reduction is left: 40 ms
_MEMORY = 16 * _RECOVERY  # frames after which e^-16 of the reduction is left: nothing
BEFORE = _MEMORY + _AHEAD + REACH
AFTER = _AHEAD + REACH
_BLOCK = 131_072

_Curve = npt.NDArray[np.float64]


def limited(
    source: Source, gain: float, ceiling: float = CEILING
) -> Iterator[tuple[Samples, float]]:
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
    """The gain at each frame: `need` at the frames `over`, and after them a reduction that falls
    exponentially.

    The recursion taken[n] = max(1 - need[n], taken[n - 1] * e^(-1/recovery)) is worked out as one
    running maximum: multiplied by e^(n/recovery), here in logarithms, a reduction does not fall.
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
    """`gain` without its first and last `_AHEAD` frames, made to glide to each value in time."""
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
    """The minimum of each `stretch` neighbours, built from minima of 2, 4, 8 and so on."""
    least, of = values, 1
    while 2 * of <= stretch:
        least = np.minimum(least[:-of], least[of:])
        of *= 2
    count = len(values) - stretch + 1
    return np.minimum(least[:count], least[stretch - of : stretch - of + count])
