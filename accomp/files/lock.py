"""Locks that let one process at a time work in an output folder or on a file of a cache.

Conventions: the operating system holds the lock and frees it when the process ends, so that a
killed run leaves none behind. The lock file of a folder is beside the folder, which may be made and
removed. A process that gets a lock checks that the lock file still has its name: the last holder
may have removed it meanwhile, and another process may hold a new one.
"""

from __future__ import annotations

import contextlib
import errno
import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from accomp.errors import OutputError
from accomp.files.folders import OutputFolder, output_errors

ENDING = ".accomp-lock"
_PAUSE_S = 0.1
_MOST_TRIES = 1000  # at opening a file that others may remove meanwhile; two or three are usual
_CLOSED = {errno.EACCES, errno.EPERM, errno.EROFS}
_LONGEST_NAME = 200  # characters of a folder's name in the lock's name, which systems limit


class BusyError(Exception):
    """Another process holds the lock."""


@contextlib.contextmanager
def locked(path: Path, *, wait_s: float = 0.0) -> Iterator[None]:
    """Hold a lock file, which exists only while it is held.

    Raises `BusyError` when another process holds it for longer than `wait_s`, and `OSError` when it
    cannot be made.
    """
    handle = _held(path, time.monotonic() + wait_s)
    try:
        yield
    finally:
        if sys.platform == "win32":
            os.close(handle)  # Windows removes no file that any process has open
            with contextlib.suppress(OSError):
                path.unlink()
        else:
            with contextlib.suppress(OSError):
                path.unlink()
            os.close(handle)


@contextlib.contextmanager
def locked_folder(folder: Path) -> Iterator[None]:
    """Keep other processes out of an output folder, which need not exist yet.

    Raises `OutputError` when another process works in it.
    """
    real = folder.resolve()
    above = OutputFolder(real.parent)
    with contextlib.ExitStack() as stack:
        stack.callback(above.unmake)
        with output_errors(folder):
            try:
                _enter(stack, above, real)
            except BusyError:
                raise OutputError(
                    f"{folder}: another run is making files in this folder. Wait until it is "
                    f"done, or choose another folder.",
                    helps=("folder",),
                ) from None
        yield


def _enter(stack: contextlib.ExitStack, above: OutputFolder, folder: Path) -> None:
    """Take the lock beside a folder, or inside it where writing beside it is not allowed."""
    missing: OSError | None = None
    for _ in range(_MOST_TRIES):
        above.make()
        try:
            stack.enter_context(locked(folder.parent / f".{folder.name[:_LONGEST_NAME]}{ENDING}"))
            return
        except FileNotFoundError as error:
            missing = error  # another run removed the parent folder that it had made
        except OSError as error:
            if error.errno not in _CLOSED or not folder.is_dir():
                raise
            stack.enter_context(locked(folder / ENDING))
            return
    assert missing is not None
    raise missing  # in this folder nothing can be made


def _held(path: Path, until: float) -> int:
    """The handle of the lock file, open and locked. Raises `BusyError` after the time `until`."""
    while True:
        # Without O_NONBLOCK, opening a pipe of that name would wait for ever.
        handle = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_NONBLOCK", 0), 0o666)
        mine = free = False
        try:
            free = _grasp(handle)
            mine = free and _is_at(handle, path)
        finally:
            if not mine:
                os.close(handle)
        if mine:
            return handle
        if not free:
            if time.monotonic() >= until:
                raise BusyError
            time.sleep(_PAUSE_S)


def _is_at(handle: int, path: Path) -> bool:
    """Whether a path still names an open file."""
    try:
        return os.path.samestat(os.fstat(handle), os.stat(path))
    except OSError:
        return False


def _grasp(handle: int) -> bool:
    """Take the lock if it is free; returns whether it was."""
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    return True
