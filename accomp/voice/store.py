"""The cache of built fonts: each is built once into the user's cache folder.

Conventions: a file's name contains a fingerprint of the parameters and the model, so that a change
of these makes a new file; its SHA-256 lies beside it. A file is moved into place when it is
complete. One process builds, others wait for it.
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
_SUM_LENGTH = 1000  # bytes; a line with a checksum is shorter
SPARED_S = 24 * 3600.0  # another version of the program may be using a younger font

Make = Callable[[], bytes]


def built(name: str, fingerprint: str, make: Make) -> Path:
    """The file of the font with that name and fingerprint; `make` gives its bytes on first use.

    When the cache cannot be written, the font is built for this process only. Raises `SoundError`
    when it cannot be written anywhere, and the exceptions of `make`.
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
                _remove_older(path, name)
        return path
    except BusyError:
        busy = TimeoutError(f"another process has been building for {WAIT_S:.0f} s")
        return _built_privately(path, busy, make)
    except OSError as error:
        return _built_privately(path, error, make)


def cache_folder() -> Path:
    """The folder of built fonts."""
    return homes.cache_folder() / "voices"


def is_whole(path: Path) -> bool:
    """Whether a file exists and its contents have the recorded SHA-256."""
    try:
        with open_plain(_sum_file(path)) as stream:
            wanted = stream.read(_SUM_LENGTH).decode("ascii").split()[0]
        return sha256(path) == wanted
    except (OSError, ValueError, IndexError):
        return False


def _sum_file(path: Path) -> Path:
    return path.with_name(path.name + ".sha256")


def _make(path: Path, make: Make) -> None:
    """Build a font and write it, then its checksum: without a checksum a file does not count as
    whole. Raises `OSError` when one cannot be written.
    """
    data = make()
    _write_whole(path, data)
    line = f"{hashlib.sha256(data).hexdigest()}  {path.name}\n"
    _write_whole(_sum_file(path), line.encode("ascii"))


def _write_whole(path: Path, data: bytes) -> None:
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


def _remove_older(path: Path, name: str) -> None:
    """Remove fonts of this name with other fingerprints, but no recent ones: another version of the
    program may be using them.
    """
    for old in path.parent.glob(f"{name}-????????????.sf2*"):
        if not old.name.startswith(path.name):
            with contextlib.suppress(OSError):
                if time.time() - old.stat().st_mtime > SPARED_S:
                    old.unlink()


_private_folder: Path | None = None


def _built_privately(wanted: Path, error: OSError, make: Make) -> Path:
    """Build a font into a temporary folder, which is removed when the process ends."""
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
