"""Where voices are kept: built once into the user's cache, found there ever after.

Conventions: a voice's file is named after what it was made from, so that a change of parameters or
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
from pathlib import Path

from accomp.errors import InputError, SoundError
from accomp.files import homes
from accomp.files.data import find, names
from accomp.files.lock import BusyError, locked
from accomp.voice.reader import read_voice
from accomp.voice.sampling import Progress

KIND = "soundfonts"
WAIT_S = 180.0
SPARED_S = 24 * 3600.0  # a voice younger than this may be in use by another version


def voice_names() -> tuple[str, ...]:
    """The voices there are, sorted."""
    return names(KIND)


def voice_font(name: str = "tenor-banjo", *, progress: Progress | None = None) -> Path:
    """The SoundFont of a voice, built on first use (`progress` hears parts done, 0 to 1).

    When the cache cannot be written it is built for this process only. Raises `SoundError` for an
    unknown voice, wrong parameters, or when there is no room to write it anywhere.
    """
    parameters = find(KIND, name)
    if parameters is None:
        known = ", ".join(voice_names())
        raise SoundError(f"there is no voice {name!r}. Known are: {known}.")
    try:
        file = f"{name}-{_fingerprint(parameters)}.sf2"
    except OSError as error:
        raise SoundError(f"{parameters}: cannot be read ({_reason(error)}).") from error
    folder = cache_folder()
    path = folder / file
    if is_whole(path):
        return path
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with locked(folder / f"{file}.lock", wait_s=WAIT_S):
            if not is_whole(path):
                _make(parameters, path, progress)
                _forget_others(path, name)
        return path
    except BusyError:
        busy = TimeoutError(f"another process has been building for {WAIT_S:.0f} s")
        return _private(parameters, file, folder, busy, progress)
    except OSError as error:
        return _private(parameters, file, folder, error, progress)


def cache_folder() -> Path:
    """Where built voices are kept."""
    return homes.cache_folder() / "voices"


def is_whole(path: Path) -> bool:
    """Whether a file is there and has the contents that were once written."""
    try:
        wanted = _sum_file(path).read_text(encoding="ascii").split()[0]
        return hashlib.sha256(path.read_bytes()).hexdigest() == wanted
    except (OSError, ValueError, IndexError):
        return False


def _sum_file(path: Path) -> Path:
    return path.with_name(path.name + ".sha256")


def _fingerprint(parameters: Path) -> str:
    """Twelve letters that change with the parameters and with the code of the model."""
    digest = hashlib.sha256(parameters.read_bytes())
    for module in sorted(Path(__file__).parent.glob("*.py")):
        if module.name != Path(__file__).name:
            digest.update(module.read_bytes())
    return digest.hexdigest()[:12]


def _make(parameters: Path, path: Path, progress: Progress | None) -> None:
    """Build beside the final place and move there; the checksum goes first, so that a file with
    none is never taken for whole. Raises `OSError` when it cannot be written.
    """
    from accomp.voice.build import build

    try:
        voice = read_voice(parameters)
    except InputError as error:
        raise SoundError(f"the voice {parameters.stem!r} cannot be built. {error}") from error
    data = build(voice, progress)
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
    """Remove what older parameters made of this voice, when it has not been made lately: another
    version of the program may be at work with a new one."""
    for old in path.parent.glob(f"{name}-????????????.sf2*"):
        if not old.name.startswith(path.name):
            with contextlib.suppress(OSError):
                if time.time() - old.stat().st_mtime > SPARED_S:
                    old.unlink()


_private_folder: Path | None = None


def _private(
    parameters: Path, file: str, folder: Path, error: OSError, progress: Progress | None
) -> Path:
    """A voice for this process alone, when the cache is of no use; gone when the process ends."""
    global _private_folder
    try:
        if _private_folder is None:
            _private_folder = Path(tempfile.mkdtemp(prefix="accomp-voice-"))
            atexit.register(shutil.rmtree, _private_folder, ignore_errors=True)
        path = _private_folder / file
        if not is_whole(path):
            _make(parameters, path, progress)
    except OSError as second:
        raise SoundError(
            f"the voice {parameters.stem!r} cannot be written, neither to {folder} "
            f"({_reason(error)}) nor to a temporary folder ({_reason(second)}). Make room, or "
            f"choose another font.",
            helps=("soundfont",),
        ) from second
    return path


def _reason(error: OSError) -> str:
    return (error.strerror or str(error)).lower()
