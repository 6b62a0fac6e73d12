"""One synth with its fonts, without room: the renderer and its self-check both play on it.

Conventions: sound is float32, shape (frames, 2), left then right; full scale is ±1 but nothing
clips. The room, reverb and chorus of the synth are off. A synth obeys a message at the start of its
next `STEP` frames.

Every stem has a new synth, but a small font stays loaded and goes from synth to synth: it keeps
nothing of the notes that it played, and loading it takes a tenth of the time that a stem takes.
"""

from __future__ import annotations

import ctypes
import threading
from collections.abc import Sequence
from typing import Any, Self

from accomp.errors import SoundError
from accomp.write.audio.spool import Samples, planar
from accomp.write.soundfont import SoundFont
from accomp.write.synth import load_synth, messages

STEP = 64  # frames, FLUID_BUFSIZE

_LARGE = 50_000_000  # bytes
_POINTER, _INT = ctypes.c_void_p, ctypes.c_int


class FontSynth:
    """A context with a synth that has loaded `fonts`; the last one is searched first."""

    def __init__(self, fonts: Sequence[SoundFont], sample_rate: int) -> None:
        synth = load_synth()
        self._fl, self._library = synth.api, synth.path
        self._write_float = _write_float(self._fl)
        self._fonts = fonts
        self._rate = sample_rate
        self._settings: Any = None
        self._synth: Any = None
        self._small: list[_Loaded] = []

    def __enter__(self) -> Self:
        try:
            self.start()
        except BaseException:
            self.free()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        self.free()

    def sound(self, frames: int) -> Samples:
        """The next `frames` frames. The interpreter's lock is free while the synth works. Raises
        `SoundError` when the synth stops."""
        block = planar(frames)
        pointer = block.ctypes.data
        if self._write_float(self._synth, frames, pointer, 0, 1, pointer, frames, 1):
            raise SoundError(f"FluidSynth stopped while rendering. It said: {last_messages()}")
        return block

    def tell(self, status: int, data: bytes) -> None:
        """Give the synth a MIDI channel message; kinds that our files do not have are ignored."""
        kind, channel = status >> 4, status & 15
        if kind == 9 and data[1]:
            self._fl.fluid_synth_noteon(self._synth, channel, data[0], data[1])
        elif kind in (8, 9):
            self._fl.fluid_synth_noteoff(self._synth, channel, data[0])
        elif kind == 11:
            self._fl.fluid_synth_cc(self._synth, channel, data[0], data[1])
        elif kind == 12:
            self._fl.fluid_synth_program_change(self._synth, channel, data[0])

    def start(self) -> None:
        """Make the synth and load its fonts. Raises `SoundError`; call `free` in any case."""
        fl = self._fl
        self._settings = fl.new_fluid_settings()
        for name, number in (("synth.sample-rate", float(self._rate)), ("synth.gain", 0.5)):
            fl.fluid_settings_setnum(self._settings, name.encode(), number)
        for name in (
            "synth.reverb.active",
            "synth.chorus.active",
            "synth.lock-memory",
        ):
            fl.fluid_settings_setint(self._settings, name.encode(), 0)
        # A player counts the frames made, not the clock on the wall.
        fl.fluid_settings_setstr(self._settings, b"player.timing-source", b"sample")
        self._synth = fl.new_fluid_synth(self._settings)
        for font in self._fonts:
            self._load(font)

    def _load(self, font: SoundFont) -> None:
        fl, sfonts = self._fl, _sfonts(self._fl)
        stat = font.path.stat()
        key = (self._library, font.path, stat.st_mtime_ns, stat.st_size)
        # Of a large font only the samples in use are read, at each change of preset; a small one is
        # read whole, since a voice changes its preset with nearly every stroke.
        large = stat.st_size > _LARGE
        kept = None if large else _taken(key)
        if kept is not None:
            sfonts["add"](self._synth, kept)
        else:
            fl.fluid_settings_setint(self._settings, b"synth.dynamic-sample-loading", int(large))
            if fl.fluid_synth_sfload(self._synth, str(font.path).encode(), 1) < 0:
                compressed = " It may be a compressed font (.sf3)." if _is_sf3(font) else ""
                raise SoundError(
                    f"{font.path}: FluidSynth cannot load this SoundFont.{compressed} It said: "
                    f"{last_messages()}. Choose another .sf2 file, or name none.",
                    helps=("soundfont",),
                )
        if not large:  # a large font goes on reading with means of its synth, so it stays in it
            self._small.append((key, kept or sfonts["get"](self._synth, 0)))

    def free(self) -> None:
        """Free the synth, and its fonts except those that a later synth may take over."""
        if self._small:
            sfonts = _sfonts(self._fl)
            for _, sfont in self._small:
                sfonts["remove"](self._synth, sfont)
            for sfont in _put_back(self._small):
                sfonts["add"](self._synth, sfont)  # the font is freed with this synth
            self._small = []
        for delete, thing in (
            (self._fl.delete_fluid_synth, self._synth),
            (self._fl.delete_fluid_settings, self._settings),
        ):
            if thing:
                delete(thing)
        self._synth = self._settings = None


_Key = tuple[object, ...]  # the library that has loaded it, and the font's file as it is now
_Loaded = tuple[_Key, int]
_IDLE: list[_Loaded] = []  # fonts that are loaded and in no synth, the one used last at the end
_IDLE_MOST = 4  # the band's font for two threads, the player's, and one more
_ONE_AT_A_TIME = threading.Lock()


def _taken(key: _Key) -> int | None:
    """Take an idle font for a synth of one's own; None where it is not loaded."""
    with _ONE_AT_A_TIME:
        at = next((at for at, (idle, _) in enumerate(_IDLE) if idle == key), None)
        return None if at is None else _IDLE.pop(at)[1]


def _put_back(loaded: Sequence[_Loaded]) -> list[int]:
    """Keep the fonts of one library for its next synth; returns those that are too many to keep."""
    (library, *_), _ = loaded[0]
    with _ONE_AT_A_TIME:
        _IDLE.extend(loaded)
        its = [one for one in _IDLE if one[0][0] == library]
        surplus = its[: max(0, len(its) - _IDLE_MOST)]
        for one in surplus:
            _IDLE.remove(one)
        return [sfont for _, sfont in surplus]


def _sfonts(fl: Any) -> dict[str, Any]:
    """Functions for a synth's fonts that pyfluidsynth has no name for."""
    synth, sfont = ("synth", _POINTER, 1), ("sfont", _POINTER, 1)
    return {
        "get": fl.cfunc("fluid_synth_get_sfont", _POINTER, synth, ("number", _INT, 1)),
        "add": fl.cfunc("fluid_synth_add_sfont", _INT, synth, sfont),
        "remove": fl.cfunc("fluid_synth_remove_sfont", _INT, synth, sfont),
    }


def last_messages() -> str:
    """FluidSynth's last messages, for an error's text."""
    return "; ".join(messages()[-4:]) or "nothing"


def _write_float(fl: Any) -> Any:
    """FluidSynth's function `fluid_synth_write_float`, which pyfluidsynth lacks."""
    arguments: list[tuple[str, type, int]] = [("len", _INT, 1)]
    for side in ("left", "right"):
        arguments += [(side, _POINTER, 1), (f"{side}_off", _INT, 1), (f"{side}_step", _INT, 1)]
    return fl.cfunc("fluid_synth_write_float", _INT, ("synth", _POINTER, 1), *arguments)


def _is_sf3(font: SoundFont) -> bool:
    return font.path.suffix.lower() == ".sf3"
