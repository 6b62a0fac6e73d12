"""Sound kept on disk while it is worked on, so that a long tune does not fill the memory.

Conventions: float32, shape (frames, 2). Long sound lies channel by channel in memory (`planar`),
since nearly all work on sound is done by channel. A spool reads as silence before its start and
after its end, so that sounds of different lengths can be added.
"""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from contextlib import ExitStack
from typing import Protocol, Self

import numpy as np
import numpy.typing as npt

Samples = npt.NDArray[np.float32]
_SAMPLE = 4  # bytes


class Source(Protocol):
    """Anything from which sound can be read at any place."""

    @property
    def frames(self) -> int:
        """Length."""
        ...

    def read(self, start: int, count: int) -> Samples:
        """`count` frames from `start` on, a new array; silence outside the source."""
        ...


def planar(frames: int) -> Samples:
    """An array for sound with each channel by itself in memory; its values are not set."""
    return np.empty((2, frames), np.float32).T


class Spool:
    """Sound in nameless files, one a channel, which the system deletes when they are closed."""

    def __init__(self) -> None:
        with ExitStack() as stack:
            # Without a buffer, so that whole blocks go straight from array to file and back.
            self._files = [
                stack.enter_context(tempfile.TemporaryFile(buffering=0)) for _ in range(2)
            ]
            self._open = stack.pop_all()
        self._frames = 0
        self._heard = 0  # frames up to the last sound; the silence after it is not written

    @property
    def frames(self) -> int:
        """Frames put in so far."""
        return self._frames

    def append(self, block: Samples) -> None:
        """Add sound at the end. Raises `OSError` when the disk is full."""
        start = self._frames
        self._frames += len(block)
        if not block.any():  # silence is not written: the files read as zeros there
            return
        for file, side in zip(self._files, block.T, strict=True):
            file.seek(start * _SAMPLE)
            left = np.ascontiguousarray(side, np.float32).data.cast("B")
            while left:  # one call may write less than it is given
                left = left[file.write(left) :]
        self._heard = self._frames

    def read(self, start: int, count: int) -> Samples:
        """`count` frames from `start` on, silence outside."""
        block = planar(count)
        first = min(max(start, 0), start + count)
        last = max(first, min(start + count, self._heard))
        block[: first - start] = 0
        block[last - start :] = 0
        if first < last:
            for file, side in zip(self._files, block.T, strict=True):
                file.seek(first * _SAMPLE)
                left = side[first - start : last - start].data.cast("B")
                while left and (got := file.readinto(left)):
                    left = left[got:]
        return block

    def close(self) -> None:
        """Close the files, which frees the disk."""
        self._open.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


class SummedSource:
    """Several sources heard at once: added in the order given, from the left.

    The sum is as long as the longest source, and has at least `at_least` frames.
    """

    def __init__(self, sources: Sequence[Source], *, at_least: int = 0) -> None:
        self._sources = tuple(sources)
        self._at_least = at_least

    @property
    def frames(self) -> int:
        """Length."""
        return max([self._at_least, *(source.frames for source in self._sources)])

    def read(self, start: int, count: int) -> Samples:
        """The sum of all, silence outside."""
        if not self._sources:
            return np.zeros((count, 2), np.float32)
        total = self._sources[0].read(start, count)
        for source in self._sources[1:]:
            total += source.read(start, count)
        return total


class InMemory:
    """An array as a source."""

    def __init__(self, sound: Samples) -> None:
        self._sound = sound

    @property
    def frames(self) -> int:
        """Its length."""
        return len(self._sound)

    def read(self, start: int, count: int) -> Samples:
        """`count` frames from `start` on, silence outside."""
        block = planar(count)
        block[:] = 0
        first, last = max(start, 0), min(start + count, len(self._sound))
        if first < last:
            block[first - start : last - start] = self._sound[first:last]
        return block


class DelayedSource:
    """A source after `silent` frames of silence."""

    def __init__(self, source: Source, silent: int) -> None:
        self._source = source
        self._silent = silent

    @property
    def frames(self) -> int:
        """Length, the silence included."""
        return self._source.frames + self._silent

    def read(self, start: int, count: int) -> Samples:
        """`count` frames from `start` on, silence outside."""
        return self._source.read(start - self._silent, count)
