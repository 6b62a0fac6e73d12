"""The strummed part's own bus: strokes that stand out are made softer, tops are rounded off.

One stroke in a hundred is 12 dB louder than the median stroke and would keep the whole tune soft,
since the highest peak limits how loud a mix can be. Such a stroke is made softer, as a good player
or sound engineer does it; the high attacks that are left (some thousandths of a second) are bent
under a ceiling. Both leave the rest of the part as it is.

Conventions: a stroke lasts from its first string to the next stroke's; strings less than `_ONE_S`
apart are one stroke. Figures are proposals within what was measured on strummed parts: bent 5 dB
under its top, a part's spectrum changes by less than 0.2 dB.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt

from accomp.score.performance import Note
from accomp.write.audio.clip import clipped
from accomp.write.audio.spool import Samples, Source

STANDS_OUT_DB = 4.0  # over the median stroke: from here on a stroke is made softer
_KEPT = 0.35  # the share of the decibels above that which a stroke keeps
CLIP_DB = 5.0  # the ceiling, under the highest peak
_NEVER_UNDER_DB = 0.0  # the lowest ceiling, over the median stroke's peak
_ONE_S = 0.07
_HOP = 441  # frames: gains are worked out every 10 ms and glide in between
_READ_HOPS = 256

_Curve = npt.NDArray[np.float64]


def onsets_s(notes: Sequence[Note]) -> tuple[float, ...]:
    """The starts of the strokes, in order."""
    found: list[float] = []
    last = -1.0
    for at_s in sorted(note.start_s for note in notes):
        if not found or at_s - last >= _ONE_S:
            found.append(at_s)
        last = at_s
    return tuple(found)


class LevelledSource:
    """A source with a gain for each hop, without steps in between."""

    def __init__(self, source: Source, gains: _Curve) -> None:
        self._source = source
        self._gains = gains  # one a hop, at its start

    @property
    def frames(self) -> int:
        """Length."""
        return self._source.frames

    def read(self, start: int, count: int) -> Samples:
        """`count` frames from `start` on, silence outside."""
        block = self._source.read(start, count)
        around = self._gains[max(0, start // _HOP) : (start + count) // _HOP + 2]
        if (around == 1).all():
            return block
        places = (start + np.arange(count)) / _HOP
        gain = np.interp(places, np.arange(len(self._gains)), self._gains)
        return block * gain.astype(np.float32)[:, None]


def strummed(source: Source, starts_s: Sequence[float], sample_rate: int) -> Iterator[Samples]:
    """Blocks of a strummed part: strokes levelled, tops rounded off."""
    tops = _tops(source)
    starts = sorted({int(at_s * sample_rate) // _HOP for at_s in starts_s})
    starts = [at for at in starts if at < len(tops)]
    peaks = np.maximum.reduceat(tops, starts) if starts else np.zeros(0)
    if not peaks.any():
        yield from clipped(source, np.inf)
        return
    median = _median(peaks[peaks > 0])
    gains = _gains(peaks, median)
    # A stroke's gain holds from a hop before its first string, so that the attack has it in full.
    curve = np.ones(len(tops) + 2)
    for at, until, gain in zip(starts, [*starts[1:], len(curve)], gains, strict=True):
        curve[max(0, at) : until] = gain
    curve[:-1] = np.minimum(curve[:-1], curve[1:])  # the gain glides down before, up after
    highest = float((peaks * gains).max())
    floor = median * 10 ** (_NEVER_UNDER_DB / 20)
    ceiling = max(highest * 10 ** (-CLIP_DB / 20), floor)
    yield from clipped(LevelledSource(source, curve), ceiling)


def rounded_tops(source: Source, under_db: float = CLIP_DB) -> Iterator[Samples]:
    """Blocks of a source with its tops bent under a ceiling `under_db` below the highest peak, for
    clicks and drums."""
    tops = _tops(source)
    highest = float(tops.max()) if len(tops) else 0.0
    return clipped(source, highest * 10 ** (-under_db / 20) or np.inf)


def _median(values: _Curve) -> float:
    """The median; numpy's own function first loads its masked arrays, a tenth of a second."""
    ordered = np.sort(values)
    half = len(ordered) // 2
    return float(ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2)


def _gains(peaks: _Curve, median: float) -> _Curve:
    """The factor for each stroke: 1 except for strokes that stand out."""
    over_db = 20 * np.log10(np.maximum(peaks, 1e-12) / median) - STANDS_OUT_DB
    return np.where(over_db > 0, 10 ** (-(1 - _KEPT) * np.maximum(over_db, 0) / 20), 1.0)


def _tops(source: Source) -> _Curve:
    """The highest absolute value of each hop."""
    size = _HOP * _READ_HOPS
    tops = [np.zeros(0)]
    for start in range(0, source.frames, size):
        block = source.read(start, size)
        highest = np.maximum(np.abs(block[:, 0]), np.abs(block[:, 1]))
        tops.append(highest.reshape(-1, _HOP).max(axis=1).astype(float))
    return np.concatenate(tops)
