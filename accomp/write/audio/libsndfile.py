"""libsndfile, which writes and reads sound files, without signals or lost errors in its calls.

Conventions: libsndfile writes into memory by calling back into Python. An exception that is raised
in such a callback, as by Ctrl-C, is lost, and the file is damaged without a word. Signals that come
while the library works are therefore answered just after its call, which never takes a second. An
error in the callback (no memory left) is raised just after the call, too.
"""

from __future__ import annotations

import contextlib
import io
import signal
import threading
from collections.abc import Callable, Iterable, Iterator
from typing import Any

import numpy as np
import numpy.typing as npt

_TOLD = ("SIGINT", "SIGTERM", "SIGHUP")
_WRITE = 16_384  # frames at a time: the Vorbis encoder keeps large writes on its stack
_READ = 65_536


@contextlib.contextmanager
def undisturbed() -> Iterator[None]:
    """Hold back signals inside the context; the first that comes is answered afterwards."""
    if threading.current_thread() is not threading.main_thread():
        yield  # Python answers signals in its main thread alone
        return
    came: list[int] = []
    before: dict[int, Callable[..., Any]] = {}
    try:
        for number in (getattr(signal, name) for name in _TOLD if hasattr(signal, name)):
            handler = signal.getsignal(number)
            if callable(handler):
                before[number] = handler
                signal.signal(number, lambda which, frame: came.append(which))
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        if came:
            signal.raise_signal(came[0])


class _Sink(io.BytesIO):
    """Memory that the library writes to; it keeps the first error of writing."""

    failed: BaseException | None = None

    def write(self, data: Any) -> int:
        """Write data; returns how many bytes were written, 0 after an error."""
        try:
            return super().write(data)
        except BaseException as error:
            self.failed = self.failed or error
            return 0


def sound_file(
    blocks: Iterable[npt.NDArray[Any]],
    form: tuple[str, str],
    *,
    rate_hz: int,
    channels: int = 2,
    texts: Iterable[tuple[str, str]] = (),
    **how: Any,
) -> bytes:
    """The bytes of a sound file; `form` is its container and coding by libsndfile's names, `texts`
    are tags by name. Raises `MemoryError`."""
    import soundfile

    sink = _Sink()

    @contextlib.contextmanager
    def calling() -> Iterator[None]:
        with undisturbed():
            try:
                yield
            finally:
                if sink.failed is not None:
                    raise sink.failed

    container, subtype = form
    with calling():
        file = soundfile.SoundFile(sink, "w", rate_hz, channels, subtype, format=container, **how)
    try:
        for name, text in texts:
            if text:
                setattr(file, name, text)
        for block in blocks:
            for start in range(0, len(block), _WRITE):
                with calling():
                    file.write(block[start : start + _WRITE])
        if not file.frames:  # a FLAC file without frames has no header
            with calling():
                file.write(np.zeros((1, channels), np.float32))
    finally:
        with calling():
            file.close()
    return sink.getvalue()


def read(data: bytes) -> Iterator[npt.NDArray[np.float32]]:
    """The sound of a file, block by block."""
    import soundfile

    with undisturbed():
        file = soundfile.SoundFile(io.BytesIO(data))
    try:
        while True:
            with undisturbed():
                block = file.read(_READ, dtype="float32", always_2d=True)
            if not len(block):
                return
            yield block
    finally:
        with undisturbed():
            file.close()
