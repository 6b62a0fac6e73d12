"""Sound kept on disk while it is worked on, so that a long tune does not fill the memory.

Conventions: float32, shape (frames, 2). A spool reads as silence before its start and after its
end, so that sounds of different lengths can be added.
"""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from types import TracebackType
from typing import Protocol

import numpy as np
import numpy.typing as npt

Sound = npt.NDArray[np.float32]
_FRAME = 2 * 4  # bytes


class Source(Protocol):
    """Anything that sound can be read from at any place."""

    @property
    def frames(self) -> int:
        """Length."""
        ...

    def read(self, start: int, count: int) -> Sound:
        """`count` frames from `start` on, a new array; silence outside the source."""
        ...


class Spool:
    """Sound in a file that has no name and goes when it is closed."""

    def __init__(self) -> None:
        self._file = tempfile.TemporaryFile()  # noqa: SIM115  closed in __exit__
        self._frames = 0
        self._heard = 0  # frames after which all is silent, and nothing is written

    @property
    def frames(self) -> int:
        """Frames put in so far."""
        return self._frames

    def append(self, block: Sound) -> None:
        """Add sound at the end. Raises `OSError` when the disk is full."""
        start = self._frames
        self._frames += len(block)
        if not block.any():  # left out of the file, which reads as nought there
            return
        self._file.seek(start * _FRAME)
        self._file.write(np.ascontiguousarray(block, np.float32).data)
        self._heard = self._frames

    def read(self, start: int, count: int) -> Sound:
        """`count` frames from `start` on, silence outside."""
        block = np.zeros((count, 2), np.float32)
        first, last = max(start, 0), min(start + count, self._heard)
        if first < last:
            self._file.seek(first * _FRAME)
            data = self._file.read((last - first) * _FRAME)
            block[first - start : last - start] = np.frombuffer(data, np.float32).reshape(-1, 2)
        return block

    def close(self) -> None:
        """Give the disk back."""
        self._file.close()

    def __enter__(self) -> Spool:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


class Sum:
    """Several sources heard at once: added in the order given, from the left.

    The sum lasts as long as the longest, and `at_least` so many frames.
    """

    def __init__(self, sources: Sequence[Source], *, at_least: int = 0) -> None:
        self._sources = tuple(sources)
        self._at_least = at_least

    @property
    def frames(self) -> int:
        """Length."""
        return max([self._at_least, *(source.frames for source in self._sources)])

    def read(self, start: int, count: int) -> Sound:
        """The sum of all, silence outside."""
        total = np.zeros((count, 2), np.float32)
        for source in self._sources:
            total += source.read(start, count)
        return total


class InMemory:
    """An array as a source."""

    def __init__(self, sound: Sound) -> None:
        self._sound = sound

    @property
    def frames(self) -> int:
        """Its length."""
        return len(self._sound)

    def read(self, start: int, count: int) -> Sound:
        """`count` frames from `start` on, silence outside."""
        block = np.zeros((count, 2), np.float32)
        first, last = max(start, 0), min(start + count, len(self._sound))
        if first < last:
            block[first - start : last - start] = self._sound[first:last]
        return block


class Later:
    """A source after so many frames of silence."""

    def __init__(self, source: Source, silent: int) -> None:
        self._source = source
        self._silent = silent

    @property
    def frames(self) -> int:
        """Length, the silence included."""
        return self._source.frames + self._silent

    def read(self, start: int, count: int) -> Sound:
        """`count` frames from `start` on, silence outside."""
        return self._source.read(start - self._silent, count)
