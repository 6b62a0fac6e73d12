"""Where made fonts are kept: built once into the user's cache, found there ever after.

Conventions: a font's file is named after what it was made from, so that a change of parameters or
of the model makes a new file; beside it lies its SHA-256. A file is only ever moved into place
whole. One process builds, others wait for it.
"""

from __future__ import annotations

import atexit
import contextlib
import hashlib
import os
import shutil
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from accomp.errors import SoundError, reason
from accomp.files import homes
from accomp.files.lock import BusyError, locked
from accomp.files.plain import open_plain, sha256

WAIT_S = 180.0
_SUM_LENGTH = 1000  # no such line is longer
SPARED_S = 24 * 3600.0  # a font younger than this may be in use by another version

Make = Callable[[], bytes]


def built(name: str, fingerprint: str, make: Make) -> Path:
    """The font of that name made from what has that fingerprint; `make` gives its bytes on first
    use.

    When the cache cannot be written it is built for this process only. Raises `SoundError` when
    there is no room to write it anywhere, and whatever `make` raises.
    """
    file = f"{name}-{fingerprint}.sf2"
    folder = cache_folder()
    path = folder / file
    if is_whole(path):
        return path
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with locked(folder / f"{file}.lock", wait_s=WAIT_S):
            if not is_whole(path):
                _make(path, make)
                _forget_others(path, name)
        return path
    except BusyError:
        busy = TimeoutError(f"another process has been building for {WAIT_S:.0f} s")
        return _private(path, busy, make)
    except OSError as error:
        return _private(path, error, make)


def cache_folder() -> Path:
    """Where built fonts are kept."""
    return homes.cache_folder() / "voices"


def is_whole(path: Path) -> bool:
    """Whether a file is there and has the contents that were once written."""
    try:
        with open_plain(_sum_file(path)) as stream:
            wanted = stream.read(_SUM_LENGTH).decode("ascii").split()[0]
        return sha256(path) == wanted
    except (OSError, ValueError, IndexError):
        return False


def _sum_file(path: Path) -> Path:
    return path.with_name(path.name + ".sha256")


def _make(path: Path, make: Make) -> None:
    """Build beside the final place and move there; the checksum goes first, so that a file with
    none is never taken for whole. Raises `OSError` when it cannot be written.
    """
    data = make()
    _put(path, data)
    line = f"{hashlib.sha256(data).hexdigest()}  {path.name}\n"
    _put(_sum_file(path), line.encode("ascii"))


def _put(path: Path, data: bytes) -> None:
    handle, aside = tempfile.mkstemp(prefix=".building-", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(aside, 0o644)
        os.replace(aside, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(aside)
        raise


def _forget_others(path: Path, name: str) -> None:
    """Remove what older parameters made of this font, when it has not been made lately: another
    version of the program may be at work with a new one."""
    for old in path.parent.glob(f"{name}-????????????.sf2*"):
        if not old.name.startswith(path.name):
            with contextlib.suppress(OSError):
                if time.time() - old.stat().st_mtime > SPARED_S:
                    old.unlink()


_private_folder: Path | None = None


def _private(wanted: Path, error: OSError, make: Make) -> Path:
    """A font for this process alone, when the cache is of no use; gone when the process ends."""
    global _private_folder
    try:
        if _private_folder is None:
            _private_folder = Path(tempfile.mkdtemp(prefix="accomp-voice-"))
            atexit.register(shutil.rmtree, _private_folder, ignore_errors=True)
        path = _private_folder / wanted.name
        if not is_whole(path):
            _make(path, make)
    except OSError as second:
        raise SoundError(
            f"the font {wanted.name} cannot be written, neither to {wanted.parent} "
            f"({reason(error)}) nor to a temporary folder ({reason(second)}). Make room, or "
            f"choose another font.",
            helps=("soundfont",),
        ) from second
    return path
