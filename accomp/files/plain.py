"""Opening plain files only: a pipe, a socket or a device could keep the program waiting for ever.

Conventions: anything else raises `NotPlainError`, an `OSError`, so that callers report it as they
report any unreadable file. The path "-" is standard input; it is read once and kept, since some
files are read several times.
"""

from __future__ import annotations

import errno
import hashlib
import io
import os
import stat
import sys
from functools import cache
from pathlib import Path

STDIN = Path("-")
MOST_FROM_STDIN = 64_000_000  # bytes, more than the limit of any reader

_SORTS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISLNK, "a link"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)


class NotPlainError(OSError):
    """The path is no plain file; `sort` says what it is ("a pipe")."""

    def __init__(self, path: Path, sort: str) -> None:
        super().__init__(errno.EINVAL, f"this is {sort}, and a plain file is needed", str(path))
        self.sort = sort


@cache
def _from_stdin() -> bytes:
    if sys.stdin is None:  # closed before the program started
        return b""
    return sys.stdin.buffer.read(MOST_FROM_STDIN)


def open_plain(path: Path) -> io.BufferedIOBase:
    """A plain file, or standard input, open for reading bytes.

    Raises `OSError`; `NotPlainError` for anything but a plain file.
    """
    if path == STDIN:
        return io.BytesIO(_from_stdin())
    # Checked before opening, since opening alone has effects on some devices; and checked again
    # afterwards, on the file that is really open. Without O_NONBLOCK, opening a pipe would wait.
    _ask(path, os.stat(path))
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    try:
        _ask(path, os.fstat(handle))
        return os.fdopen(handle, "rb")
    except BaseException:
        os.close(handle)
        raise


def _ask(path: Path, state: os.stat_result) -> None:
    if stat.S_ISDIR(state.st_mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    if not stat.S_ISREG(state.st_mode):
        raise NotPlainError(path, sort_of(state))


def sort_of(state: os.stat_result) -> str:
    """The sort of file in words: "a plain file", "a pipe" ..."""
    if stat.S_ISREG(state.st_mode):
        return "a plain file"
    return next((sort for fits, sort in _SORTS if fits(state.st_mode)), "no file")


def sha256(path: Path) -> str:
    """SHA-256 of a plain file, in hexadecimal. Raises `OSError`."""
    with open_plain(path) as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def is_still(path: Path, wanted: str) -> bool:
    """Whether a path is a plain file with the SHA-256 `wanted`."""
    try:
        return sha256(path) == wanted
    except OSError:
        return False
