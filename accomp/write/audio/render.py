"""MIDI to dry sound, by FluidSynth's player over memory.

Conventions: sound is float32, shape (frames, 2), left then right, from time 0 of the MIDI file with
nothing before it; full scale is ±1 but nothing clips. The room, reverb and chorus of the synth are
off. Blocks have a fixed size, which makes the bits repeat.

Onsets snap to the synth's own blocks of 64 frames (1.45 ms at 44,100 Hz).
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from accomp.errors import SoundError
from accomp.write.soundfont import SoundFont
from accomp.write.synth import load_synth, messages

Sound = npt.NDArray[np.float32]

SAMPLE_RATE = 44_100
BLOCK = 16_384
QUIET = 10 ** (-60 / 20)  # a ring ends when a block stays below this part of the greatest peak
TAIL_MOST_S = 12.0  # a font with endless loops is ended here
FADE = 4_096  # frames over which the last block goes to nothing

_LARGE = 50_000_000  # bytes
_PLAYING = 1  # fluid_player_status
_POINTER, _INT = ctypes.c_void_p, ctypes.c_int


def render(
    midi: bytes,
    fonts: Sequence[SoundFont],
    *,
    sample_rate: int = SAMPLE_RATE,
    progress: Callable[[float], None] | None = None,
) -> Sound:
    """The whole sound of a MIDI file, to the natural end of its last ring.

    `fonts` are searched last to first for each preset. `progress` gets the seconds made so far.
    Raises `SoundError` when there is no synthesiser or a font does not load.
    """
    made = []
    frames = 0
    for block in render_blocks(midi, fonts, sample_rate=sample_rate):
        made.append(block)
        frames += len(block)
        if progress is not None:
            progress(frames / sample_rate)
    return np.concatenate(made)


def render_blocks(
    midi: bytes, fonts: Sequence[SoundFont], *, sample_rate: int = SAMPLE_RATE
) -> Iterator[Sound]:
    """The same block by block, each a new array. Another thread may render at the same time."""
    with _Player(midi, fonts, sample_rate) as player:
        greatest = 0.0
        going_on = True  # the player reads the file, and knows its length, in its first block
        while going_on:
            block = player.block()
            greatest = max(greatest, _peak(block))
            yield block
            going_on = player.playing()
        for _ in range(int(TAIL_MOST_S * sample_rate / BLOCK)):
            block = player.block()
            peak = _peak(block)
            greatest = max(greatest, peak)
            if peak <= QUIET * greatest:
                break
            yield block
        fade = np.cos(np.linspace(0, np.pi / 2, FADE, dtype=np.float32)) ** 2
        yield block[:FADE] * fade[:, None]


def _peak(block: Sound) -> float:
    return float(np.abs(block).max())


class _Player:
    """One synth with its fonts and the player that feeds it; freed when left."""

    def __init__(self, midi: bytes, fonts: Sequence[SoundFont], sample_rate: int) -> None:
        self._fl = load_synth().api
        self._call = _functions(self._fl)
        self._midi = midi
        self._fonts = fonts
        self._rate = sample_rate
        self._settings: Any = None
        self._synth: Any = None
        self._player: Any = None

    def __enter__(self) -> _Player:
        try:
            self._start()
        except BaseException:
            self._free()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        self._free()

    def playing(self) -> bool:
        """Whether the file goes on; afterwards only rings are left.

        The player's own status stays "playing" for two more seconds, so the ticks are asked.
        """
        playing: bool = self._fl.fluid_player_get_status(self._player) == _PLAYING
        left: int = self._call["ticks"](self._player) - self._call["tick"](self._player)
        return playing and left > 0

    def block(self) -> Sound:
        """The next `BLOCK` frames. The interpreter's lock is free while the synth works."""
        block = np.empty((BLOCK, 2), np.float32)
        place = block.ctypes.data
        failed = self._call["write_float"](self._synth, BLOCK, place, 0, 2, place, 1, 2)
        if failed:
            raise SoundError(f"FluidSynth stopped while rendering. It said: {_said()}")
        return block

    def _start(self) -> None:
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
        # The player counts the frames made, not the clock on the wall.
        fl.fluid_settings_setstr(self._settings, b"player.timing-source", b"sample")
        self._synth = fl.new_fluid_synth(self._settings)
        for font in self._fonts:
            # Of a large font only what is used is read, at each change of preset; a small one is
            # read whole, since a voice changes its preset with nearly every stroke.
            large = font.path.stat().st_size > _LARGE
            fl.fluid_settings_setint(self._settings, b"synth.dynamic-sample-loading", int(large))
            if fl.fluid_synth_sfload(self._synth, str(font.path).encode(), 1) < 0:
                compressed = " It may be a compressed font (.sf3)." if _is_sf3(font) else ""
                raise SoundError(
                    f"{font.path}: FluidSynth cannot load this SoundFont.{compressed} It said: "
                    f"{_said()}. Choose another .sf2 file with --soundfont, or leave it out."
                )
        self._player = fl.new_fluid_player(self._synth)
        if self._call["add_mem"](self._player, self._midi, len(self._midi)) != 0:
            raise SoundError(f"FluidSynth cannot read the MIDI file. It said: {_said()}")
        fl.fluid_player_play(self._player)

    def _free(self) -> None:
        for delete, thing in (
            (self._fl.delete_fluid_player, self._player),
            (self._fl.delete_fluid_synth, self._synth),
            (self._fl.delete_fluid_settings, self._settings),
        ):
            if thing:
                delete(thing)
        self._player = self._synth = self._settings = None


def _functions(fl: Any) -> dict[str, Any]:
    """Functions of FluidSynth that pyfluidsynth has no name for."""
    written: list[tuple[str, type, int]] = [("len", _INT, 1)]
    for side in ("left", "right"):
        written += [(side, _POINTER, 1), (f"{side}_off", _INT, 1), (f"{side}_step", _INT, 1)]
    return {
        "write_float": fl.cfunc("fluid_synth_write_float", _INT, ("synth", _POINTER, 1), *written),
        "tick": fl.cfunc("fluid_player_get_current_tick", _INT, ("player", _POINTER, 1)),
        "ticks": fl.cfunc("fluid_player_get_total_ticks", _INT, ("player", _POINTER, 1)),
        "add_mem": fl.cfunc(
            "fluid_player_add_mem",
            _INT,
            ("player", _POINTER, 1),
            ("buffer", ctypes.c_char_p, 1),
            ("len", ctypes.c_size_t, 1),
        ),
    }


def _is_sf3(font: SoundFont) -> bool:
    return font.path.suffix.lower() == ".sf3"


def _said() -> str:
    return "; ".join(messages()[-4:]) or "nothing"
