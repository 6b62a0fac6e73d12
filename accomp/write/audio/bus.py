"""The bus: one gain and a limiter for a sum of stems, before it is encoded.

Conventions: levels in dB against full scale. -16 LUFS and a true peak of -1 dBTP are usual for
play-along files (common practice, no source). The limiter takes 4.5 dB at most from the full mix,
and a little more from single strokes (the last hit of everybody together) that would otherwise keep
the whole tune soft; where that is not enough, the gain is smaller and the tune stays softer.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass

import numpy as np

from accomp.write.audio.limiter import CEILING, REDUCTION_MOST_DB, limited
from accomp.write.audio.loudness import decibels, loudness_lufs, true_peak
from accomp.write.audio.spool import Samples, Source, Spool

TARGET_LUFS = -16.0
_NEAR_LU = 0.2  # the loudness may miss the target by so much
_ROUNDS = 4  # at most, of raising the gain for what the limiter takes: one or two are used
_GAIN_MOST_DB = 60.0  # reached only by a mix that is next to silent
SINGLE_MORE_DB = 2.5  # what the limiter takes from single strokes beyond `REDUCTION_MOST_DB`
_SINGLE_ONE_IN = 50  # single: in no more than one of so many tenths of a second that sound
_NEARLY_DB = 1.0  # the most by which `about_lufs` is expected to be wrong
_HOPS = 16  # tenths of a second read at a time
READ = 65_536  # frames; dither is drawn by the block, so another number would change the bytes


@dataclass(frozen=True, slots=True)
class MeasuredSound:
    """Sound with its integrated loudness and its true peak; both -inf for silence."""

    source: Source
    lufs: float
    peak_db: float
    limited_db: float = 0.0  # the most that a limiter has taken away


class ScaledSource:
    """A source times a number."""

    def __init__(self, source: Source, factor: float) -> None:
        self._source = source
        self._factor = np.float32(factor)

    @property
    def frames(self) -> int:
        """Length."""
        return self._source.frames

    def read(self, start: int, count: int) -> Samples:
        """`count` frames from `start` on, silence outside."""
        return self._source.read(start, count) * self._factor


def spooled(blocks: Iterable[Samples], stack: ExitStack) -> Spool:
    """The blocks on disk, until the stack is left."""
    spool = stack.enter_context(Spool())
    for block in blocks:
        spool.append(block)
    return spool


def blocks(source: Source) -> Iterator[Samples]:
    """The whole of a source, block by block."""
    for start in range(0, source.frames, READ):
        yield source.read(start, min(READ, source.frames - start))


class LimitedSource:
    """A source with its gain, kept under the ceiling as it is read; it can be read only once.

    It measures nothing and keeps nothing on disk: it serves files whose loudness is not reported.
    """

    def __init__(self, source: Source, gain_db: float, ceiling: float) -> None:
        self._source = source
        self._gain = 10 ** (gain_db / 20)
        self._ceiling = ceiling
        self.limited_db = 0.0  # the most that the limiter has taken away so far

    def __iter__(self) -> Iterator[Samples]:
        lowest = 1.0
        for block, least in limited(self._source, self._gain, self._ceiling):
            lowest = min(lowest, least)
            self.limited_db = -decibels(lowest)
            for start in range(0, len(block), READ):
                yield block[start : start + READ]


def measured(source: Source, sample_rate: int, limited_db: float = 0.0) -> MeasuredSound:
    """Loudness and true peak of a source."""
    lufs, peak_db = loudness_lufs(source, sample_rate), decibels(true_peak(source))
    return MeasuredSound(source, lufs, peak_db, limited_db)


def level(
    full: Source, about_lufs: float, sample_rate: int, stack: ExitStack, ceiling: float = CEILING
) -> tuple[float, MeasuredSound]:
    """The gain, in dB, that brings the full mix to the target, and the mix finished with it.

    `about_lufs` is the estimated loudness of the mix. Where the limiter would have to take more
    than `REDUCTION_MOST_DB`, or `SINGLE_MORE_DB` more from single strokes, the mix stays below the
    target.
    """
    peak_db = decibels(true_peak(full))
    if peak_db == -np.inf:
        return 0.0, MeasuredSound(full, -np.inf, -np.inf)
    most_db = decibels(ceiling) + REDUCTION_MOST_DB - peak_db
    if TARGET_LUFS - about_lufs + _NEARLY_DB > most_db:
        most_db += min(SINGLE_MORE_DB, _stands_out_db(full, sample_rate))
    most_db = min(most_db, _GAIN_MOST_DB)
    gain_db = min(TARGET_LUFS - about_lufs, most_db)
    for _ in range(_ROUNDS):
        result = _finished(full, gain_db, sample_rate, stack, ceiling, peak_db=peak_db)
        short = TARGET_LUFS - result.lufs  # the limiter takes a little loudness too
        if abs(short) <= _NEAR_LU or (gain_db >= most_db and short > 0):
            break
        gain_db = min(gain_db + short, most_db)
    return gain_db, result


def _stands_out_db(source: Source, sample_rate: int) -> float:
    """How far single strokes stand above the highest of the others."""
    hop = sample_rate // 10
    tops: list[float] = []
    for start in range(0, source.frames, _HOPS * hop):
        block = np.abs(source.read(start, _HOPS * hop)).max(axis=1)
        tops += block.reshape(_HOPS, hop).max(axis=1).tolist()
    heard = sorted(top for top in tops if top > 0)
    return decibels(heard[-1]) - decibels(heard[-1 - len(heard) // _SINGLE_ONE_IN])


def _finished(
    source: Source,
    gain_db: float,
    sample_rate: int,
    stack: ExitStack,
    ceiling: float,
    *,
    peak_db: float,
) -> MeasuredSound:
    """The sound with its gain, under the ceiling; working files live as long as `stack`.

    `peak_db` is the source's true peak.
    """
    gain = 10 ** (gain_db / 20)
    if peak_db + gain_db <= decibels(ceiling) + 1e-6:
        scaled = ScaledSource(source, gain)
        return MeasuredSound(scaled, loudness_lufs(scaled, sample_rate), peak_db + gain_db)
    lowest = 1.0
    spool = stack.enter_context(Spool())
    for block, least in limited(source, gain, ceiling):
        spool.append(block)
        lowest = min(lowest, least)
    # Sound that the limiter lowers peaks at its ceiling, so the peak need not be measured.
    lufs = loudness_lufs(spool, sample_rate)
    return MeasuredSound(spool, lufs, decibels(ceiling), -decibels(lowest))
