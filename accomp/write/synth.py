"""Finding the synthesiser: FluidSynth from pygame-ce's wheel, or else the system's.

pyfluidsynth brings no library of its own. On Linux and macOS the wheel of pygame-ce carries one
(with everything it needs beside it); on Windows, or where the wheel was built without, the system's
library is used. The wheel's library comes first, so that the same versions give the same sound on
every machine.

Conventions: nothing is loaded before the first call; pyfluidsynth is loaded privately, so that
another part of the process that has imported it on some other library does not change what plays.

The library is not safe when its first synth is made, and this module works round that. Its
`new_fluid_synth` (src/synth/fluid_synth.c, read in 2.x) first sets the static flag
`fluid_synth_initialized` and only then calls `fluid_synth_init()`, which fills in the default
modulators that every synth copies: velocity, level and pan to loudness and place. A second thread
that makes a synth in between finds the flag set, does not wait, and copies modulators that are
still blank: its synth is deaf to velocity, level and pan for as long as it lives. Therefore this
module makes and frees the process's first synth under the same lock as it loads the library, and
hands the library out only afterwards.
"""

from __future__ import annotations

import contextlib
import ctypes
import ctypes.util
import importlib.util
import io
import sys
import threading
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from accomp.errors import SoundError

REMEDY = (
    "Install the pygame-ce wheel (python -m pip install --force-reinstall pygame-ce; on Linux and "
    "macOS it carries FluidSynth), or FluidSynth 2 itself: apt install libfluidsynth3, brew "
    "install fluid-synth, on Windows the folder of libfluidsynth-3.dll on PATH. To go on without "
    "sound, ask for no audio."
)

_HEARD, _UNHEARD = range(3), range(3, 5)  # fluidsynth/log.h: panic error warning; info debug


@dataclass(frozen=True)
class Synth:
    """A loaded FluidSynth: `api` is pyfluidsynth over it, `source` says where it came from."""

    api: Any
    version: str
    source: str
    path: str

    @property
    def name(self) -> str:
        """Its name in the manifest, e.g. "FluidSynth 2.5.7 (pygame-ce wheel)"."""
        return f"FluidSynth {self.version} ({self.source})"


def synth_name() -> str:
    """Name, version and origin of the synthesiser. Raises `SoundError` when there is none."""
    return load_synth().name


_LOADING = threading.Lock()


def load_synth() -> Synth:
    """The synthesiser, loaded once and safe to use from any thread.

    Raises `SoundError` with what to install.
    """
    with _LOADING:  # `cache` alone lets two threads load at once
        return _loaded()


@cache
def _loaded() -> Synth:
    failures = []
    for source, path in _candidates():
        try:
            api = _pyfluidsynth_on(path)
        except (OSError, ImportError, AttributeError) as error:
            failures.append(f"{path}: {error}")
            continue
        version = _version(api)
        if version < (2, 1, 0):
            failures.append(f"{path}: version {'.'.join(map(str, version))} is older than 2.1")
            continue
        _collect_messages(api)
        _start_up(api)
        return Synth(api, ".".join(map(str, version)), source, path)
    tried = f" Tried: {'; '.join(failures)}." if failures else ""
    message = f"No FluidSynth library was found, so no audio can be made.{tried} {REMEDY}"
    raise SoundError(message, helps=("only",))


def messages() -> tuple[str, ...]:
    """FluidSynth's last messages, newest last; they explain a load that failed."""
    return tuple(_MESSAGES)


def wheel_libraries(package: Path) -> tuple[Path, ...]:
    """FluidSynth in an installed pygame-ce, whose package folder is `package`.

    Linux wheels keep libraries beside the package (pygame_ce.libs), macOS wheels inside it
    (.dylibs), Windows wheels directly in it.
    """
    places = (
        (package.parent / "pygame_ce.libs", "libfluidsynth*.so*"),
        (package / ".dylibs", "libfluidsynth*.dylib"),
        (package, "*fluidsynth*.dll"),
    )
    return tuple(path for folder, pattern in places for path in sorted(folder.glob(pattern)))


def _candidates() -> Iterator[tuple[str, str]]:
    spec = importlib.util.find_spec("pygame")  # found, not imported: it would open SDL
    if spec is not None and spec.origin is not None:
        for path in wheel_libraries(Path(spec.origin).parent):
            yield "pygame-ce wheel", str(path)
    for name in ("fluidsynth", "fluidsynth-3", "libfluidsynth", "libfluidsynth-3"):
        found = ctypes.util.find_library(name)
        if found:
            yield "system library", found
    if sys.platform == "darwin":  # Homebrew's folders, which other Pythons do not search
        for folder in ("/opt/homebrew/lib", "/usr/local/lib"):
            path = Path(folder, "libfluidsynth.dylib")
            if path.exists():
                yield "system library", str(path)


def _pyfluidsynth_on(path: str) -> Any:
    """A private copy of pyfluidsynth, made to find the library at `path`."""
    spec = importlib.util.find_spec("fluidsynth")
    if spec is None or spec.loader is None:
        raise ImportError("pyfluidsynth is not installed")
    module = importlib.util.module_from_spec(spec)
    search = ctypes.util.find_library
    ctypes.util.find_library = lambda name: path
    try:
        # pyfluidsynth prints where it found the library when the environment says CI.
        with contextlib.redirect_stdout(io.StringIO()):
            spec.loader.exec_module(module)
    finally:
        ctypes.util.find_library = search
    return module


def _version(api: Any) -> tuple[int, int, int]:
    numbers = tuple(ctypes.c_int() for _ in range(3))
    api.fluid_version(*numbers)
    major, minor, micro = (number.value for number in numbers)
    return major, minor, micro


def _start_up(api: Any) -> None:
    """Make and free a synth, so that the library fills in its default modulators (see above)."""
    settings = api.new_fluid_settings()
    synth = api.new_fluid_synth(settings)
    if synth:
        api.delete_fluid_synth(synth)
    api.delete_fluid_settings(settings)


_MESSAGES: deque[str] = deque(maxlen=20)


def _keep(_level: int, message: bytes | None, _data: int | None) -> None:
    _MESSAGES.append((message or b"").decode("utf-8", "replace"))


_LOG = ctypes.CFUNCTYPE(None, ctypes.c_int, ctypes.c_char_p, ctypes.c_void_p)(_keep)


def _collect_messages(api: Any) -> None:
    """Keep the library's messages off stderr: they are needed only when something fails."""
    set_log = api.cfunc(
        "fluid_set_log_function",
        ctypes.c_void_p,
        ("level", ctypes.c_int, 1),
        ("fun", ctypes.c_void_p, 1),
        ("data", ctypes.c_void_p, 1),
    )
    for level in _HEARD:
        set_log(level, ctypes.cast(_LOG, ctypes.c_void_p), None)
    for level in _UNHEARD:
        set_log(level, None, None)
