"""MIDI to dry sound, by FluidSynth's player from memory, with a self-check of each stem.

Conventions: sound is float32, shape (frames, 2), left then right, from time 0 of the MIDI file with
nothing before it; full scale is ±1 but nothing clips. The room, reverb and chorus of the synth are
off. Blocks have a fixed size, which makes the bits repeat.

Onsets snap to the synth's own blocks of 64 frames (1.45 ms at 44,100 Hz).
"""

from __future__ import annotations

import ctypes
from collections.abc import Iterator, Sequence
from itertools import islice
from typing import Any

import numpy as np

from accomp.errors import SoundError
from accomp.write.audio.fontsynth import FontSynth, last_messages
from accomp.write.audio.opening import read_opening
from accomp.write.audio.selfcheck import ALLOWED, SECONDS, compare, level_db, opening_frames
from accomp.write.audio.spool import Samples
from accomp.write.soundfont import SoundFont
from accomp.write.synth import REMEDY, synth_name

SAMPLE_RATE = 44_100
BLOCK = 16_384
QUIET = 10 ** (-60 / 20)  # a ring ends when a block stays below this share of the highest peak
TAIL_MOST_S = 12.0  # the longest ring, for fonts with endless loops
FADE = 4_096  # frames over which the last block goes to nothing

_TRIES = 3
_PLAYING = 1  # fluid_player_status
_POINTER, _INT = ctypes.c_void_p, ctypes.c_int


def render(midi: bytes, fonts: Sequence[SoundFont]) -> Samples:
    """The whole sound of a MIDI file, to the natural end of its last ring.

    `fonts` are searched last to first for each preset. Raises `SoundError` when there is no
    synthesiser, a font does not load, or the synthesiser plays something else than was asked.
    """
    return np.concatenate(list(render_blocks(midi, fonts)))


def render_blocks(midi: bytes, fonts: Sequence[SoundFont]) -> Iterator[Samples]:
    """The sound of `render` block by block, each a new array. Another thread may render meanwhile.

    No block that sounds is handed on before the opening has passed the self-check. A stem that does
    not pass is rendered again, on new synths.
    """
    opening = read_opening(midi, SECONDS, SAMPLE_RATE)
    if opening is None:
        with _Player(midi, fonts, SAMPLE_RATE) as player:
            yield from _blocks(player, SAMPLE_RATE)
        return
    start, end = opening_frames(opening, SAMPLE_RATE)
    # Blocks before the first note are the same at every attempt, so they need not be held back.
    silent = max(0, start // BLOCK - 1)
    for attempt in range(_TRIES):
        with _Player(midi, fonts, SAMPLE_RATE) as player:
            blocks = _blocks(player, SAMPLE_RATE)
            for block in islice(blocks, silent):
                if attempt == 0:
                    yield block
            held = list(islice(blocks, -(-end // BLOCK) - silent))
            played = np.concatenate(held)[start - silent * BLOCK : end - silent * BLOCK]
            apart, asked = compare(played, opening, fonts, SAMPLE_RATE)
            if apart <= ALLOWED:
                yield from held
                yield from blocks
                return
    raise SoundError(
        f"{synth_name()} played something else than the notes ask for, {_TRIES} times: in the "
        f"first {SECONDS:.0f} seconds {level_db(played):.1f} dB, where {level_db(asked):.1f} dB "
        f"were expected ({apart:.2f} apart, {ALLOWED:.2f} is let pass). Make the same again, with "
        f"nothing else using FluidSynth in this process. If it stays so: {REMEDY}",
        helps=("only",),
    )


def _blocks(player: _Player, sample_rate: int) -> Iterator[Samples]:
    """The sound of the player, to the natural end of its last ring."""
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


def _peak(block: Samples) -> float:
    return float(np.abs(block).max())


class _Player(FontSynth):
    """A synth and the player that feeds it a MIDI file."""

    def __init__(self, midi: bytes, fonts: Sequence[SoundFont], sample_rate: int) -> None:
        super().__init__(fonts, sample_rate)
        self._call = _functions(self._fl)
        self._midi = midi
        self._player: Any = None

    def playing(self) -> bool:
        """Whether the file goes on; afterwards only rings are left.

        The player's own status stays "playing" for two more seconds, so its ticks are asked for.
        """
        playing: bool = self._fl.fluid_player_get_status(self._player) == _PLAYING
        left: int = self._call["ticks"](self._player) - self._call["tick"](self._player)
        return playing and left > 0

    def block(self) -> Samples:
        """The next `BLOCK` frames."""
        return self.sound(BLOCK)

    def start(self) -> None:
        """Make the synth, and a player on the file. Raises `SoundError`."""
        super().start()
        self._player = self._fl.new_fluid_player(self._synth)
        if self._call["add_mem"](self._player, self._midi, len(self._midi)) != 0:
            raise SoundError(f"FluidSynth cannot read the MIDI file. It said: {last_messages()}")
        self._fl.fluid_player_play(self._player)

    def free(self) -> None:
        """Free the player before the synth that it uses."""
        if self._player:
            self._fl.delete_fluid_player(self._player)
        self._player = None
        super().free()


def _functions(fl: Any) -> dict[str, Any]:
    """Functions of FluidSynth's player that pyfluidsynth has no name for."""
    return {
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
