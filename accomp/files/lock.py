"""One process at a time in a folder.

Conventions: the lock is held by the system and goes with the process, so that a killed run leaves
none behind.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from pathlib import Path

from accomp.errors import OutputError


@contextlib.contextmanager
def locked(path: Path) -> Iterator[None]:
    """Hold a lock file. Raises `OutputError` when another process holds it."""
    handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
    try:
        try:
            _lock(handle)
        except OSError:
            raise OutputError(
                f"{path.parent.parent}: another run is making files in this folder. "
                f"Wait until it is done, or choose another folder.",
                helps=("folder",),
            ) from None
        yield
    finally:
        os.close(handle)


def _lock(handle: int) -> None:
    """Take the lock or raise `OSError` at once."""
    if sys.platform == "win32":
        import msvcrt

        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
    else:
        import fcntl

        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
