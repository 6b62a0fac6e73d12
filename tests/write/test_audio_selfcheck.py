"""The renderer's check on itself: faults are heard and mended or said, and nothing else is.

The faults are real ones: a synth without its default modulators (what a wrong start leaves), other
velocities than asked, another level. The reader of openings is held against mido.
"""

from __future__ import annotations

import ctypes
import io
from collections.abc import Callable
from itertools import chain
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pytest
from audio_pieces import BANJO, BASS, clicks, performance, player, small_band, soundfont_file

from accomp.errors import SoundError
from accomp.score.performance import Note, Performance, TempoMark, Track
from accomp.voice import voice_bank
from accomp.write.audio import Rendering, write_audio
from accomp.write.audio import render as rendering
from accomp.write.audio.balance import voice_gain_db
from accomp.write.audio.fonts import Fonts
from accomp.write.audio.fontsynth import FontSynth
from accomp.write.audio.opening import read_opening
from accomp.write.audio.render import BLOCK, _Player, render, render_blocks
from accomp.write.audio.selfcheck import (
    ALLOWED,
    SECONDS,
    compare,
    distance,
    opening_frames,
)
from accomp.write.audio.spool import Samples
from accomp.write.audio.stems import track_midi
from accomp.write.midi import midi_bytes
from accomp.write.soundfont import SoundFont, default_soundfont, read_soundfont

RATE = 44_100
FONT = default_soundfont()
GAIN = 10 ** (10 / 20)


def stem(piece: Performance, place: int = 0) -> bytes:
    return track_midi(piece, piece.tracks[place], Fonts(FONT))


def apart(midi: bytes, font: SoundFont = FONT, rate: int = RATE) -> float:
    """The distance that the self-check finds in a sound right from the player."""
    opening = read_opening(midi, SECONDS, rate)
    assert opening is not None
    start, end = opening_frames(opening, rate)
    with _Player(midi, [font], rate) as played:
        sound = np.concatenate([*rendering._blocks(played, rate)])[start:end]
    return compare(sound, opening, [font], rate)[0]


# Sources as in fluidsynth/mod.h: number and flags (controller 16, concave 4, bipolar 2, falling 1).
SOURCES = {"velocity": (2, 4 | 1), "level": (7, 16 | 4 | 1), "pan": (10, 16 | 2)}
AIMS = {"velocity": 48, "level": 48, "pan": 17}  # generators: attenuation, pan


class Modulator:
    """A default modulator of SoundFont 2.04, 8.4, as FluidSynth's API takes one away by."""

    def __init__(self, fl: Any, name: str) -> None:
        number, pointer = ctypes.c_int, ctypes.c_void_p
        three = (("source", number, 1), ("flags", number, 1))
        self.fl = fl
        self.mod = fl.cfunc("new_fluid_mod", pointer)()
        for call, arguments in (
            ("fluid_mod_set_source1", SOURCES[name]),
            ("fluid_mod_set_source2", (0, 0)),
        ):
            fl.cfunc(call, None, ("mod", pointer, 1), *three)(self.mod, *arguments)
        aim = fl.cfunc("fluid_mod_set_dest", None, ("mod", pointer, 1), ("dest", number, 1))
        aim(self.mod, AIMS[name])

    def taken_from(self, made: Any) -> None:
        pointer = ctypes.c_void_p
        take = self.fl.cfunc(
            "fluid_synth_remove_default_mod", ctypes.c_int, ("s", pointer, 1), ("m", pointer, 1)
        )
        assert take(made, self.mod) == 0  # it was there
        self.fl.cfunc("delete_fluid_mod", None, ("mod", pointer, 1))(self.mod)


def spoil(
    monkeypatch: pytest.MonkeyPatch, fault: str, *, which: type[FontSynth], times: int = 999
) -> list[str]:
    """Make the first `times` synths of a kind faulty; the list gets a word for every synth made."""
    made: list[str] = []
    start, sound = FontSynth.start, FontSynth.sound

    def faulty_start(self: FontSynth) -> None:
        bad = type(self) is which and made.count(which.__name__) < times
        made.append(type(self).__name__)
        self.gain = 1.0  # type: ignore[attr-defined]
        start(self)
        if not bad:
            return
        if fault == "blank":
            for name in SOURCES:
                Modulator(self._fl, name).taken_from(self._synth)
        elif fault in SOURCES:
            Modulator(self._fl, fault).taken_from(self._synth)
        else:
            self.gain = {"louder": GAIN, "quieter": 1 / GAIN}[fault]  # type: ignore[attr-defined]

    def faulty_sound(self: FontSynth, frames: int) -> Samples:
        return sound(self, frames) * np.float32(self.gain)  # type: ignore[attr-defined]

    monkeypatch.setattr(FontSynth, "start", faulty_start)
    monkeypatch.setattr(FontSynth, "sound", faulty_sound)
    return made


FAULTS = ["blank", "velocity", "level", "pan", "louder", "quieter"]


@pytest.mark.many(1, 99)
@pytest.mark.parametrize("fault", FAULTS)
def test_a_faulty_stem_is_rendered_again(fault: str, monkeypatch: pytest.MonkeyPatch) -> None:
    midi = stem(small_band(1))
    right = render(midi, [FONT])
    made = spoil(monkeypatch, fault, which=_Player, times=1)
    assert np.array_equal(render(midi, [FONT]), right)
    assert made == ["_Player", "FontSynth"] * 2


@pytest.mark.many(1, 99)
@pytest.mark.parametrize("fault", FAULTS)
def test_a_stem_that_stays_faulty_is_an_error(fault: str, monkeypatch: pytest.MonkeyPatch) -> None:
    midi = stem(small_band(1))
    made = spoil(monkeypatch, fault, which=_Player)
    with pytest.raises(
        SoundError, match=r"FluidSynth \d.* 3 times: .* Make the same again.*ask for no audio"
    ):
        render(midi, [FONT])
    assert made == ["_Player", "FontSynth"] * 3


def test_a_faulty_second_playing_is_made_again(monkeypatch: pytest.MonkeyPatch) -> None:
    midi = stem(small_band(1))
    right = render(midi, [FONT])
    made = spoil(monkeypatch, "blank", which=FontSynth, times=1)
    assert np.array_equal(render(midi, [FONT]), right)
    assert len(made) == 4


def test_velocities_made_flat_are_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """Strokes of 80 and 100, 4 dB apart, all played at 90."""
    start = _Player.start

    def flat(self: _Player) -> None:
        file = mido.MidiFile(file=io.BytesIO(self._midi))
        for message in chain(*file.tracks):
            if message.type == "note_on":
                message.velocity = 90
        buffer = io.BytesIO()
        file.save(file=buffer)
        self._midi = buffer.getvalue()
        start(self)

    monkeypatch.setattr(_Player, "start", flat)
    with pytest.raises(SoundError, match="something else than the notes ask for"):
        render(stem(small_band(1)), [FONT])


@pytest.mark.slow
def test_a_fault_leaves_no_file_and_no_gain(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    path = soundfont_file(tmp_path / "voice.sf2", presets=((0, BANJO), (1, BANJO)))
    voice = read_soundfont(path)
    with monkeypatch.context() as patch:
        spoil(patch, "blank", which=_Player)
        with pytest.raises(SoundError):
            voice_gain_db(voice, FONT, BANJO)
        with pytest.raises(SoundError):
            write_audio(small_band(1), tmp_path / "a.flac", Rendering(voice=path))
    assert not (tmp_path / "a.flac").exists()
    assert voice_gain_db(voice, FONT, BANJO) == voice_gain_db.__wrapped__(voice, FONT, BANJO)


def test_blocks_before_the_first_note_are_given_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """A stem that comes in late and is rendered again has its length and its place."""
    piece = performance(player([Note(9.0, 9.5, 60, 90, 0)]), end_s=10.0)
    right = render(stem(piece), [FONT])
    spoil(monkeypatch, "louder", which=_Player, times=2)
    blocks = list(render_blocks(stem(piece), [FONT]))
    assert np.array_equal(np.concatenate(blocks), right)
    assert not np.concatenate(blocks[: 9 * RATE // BLOCK]).any()


def _one(
    *,
    start_s: float = 0.0,
    length_s: float = 0.5,
    pitch: int = 60,
    velocity: int = 90,
    **track: int,
) -> Performance:
    note = Note(start_s, start_s + length_s, pitch, velocity, 0)
    return performance(player([note], **track), end_s=start_s + length_s)


def _unison() -> Performance:
    """One pitch on four strings, a few milliseconds apart: the hardest for levels to agree on."""
    notes = [
        Note(at_s + 0.004 * string, at_s + 0.3, 62, 60 + 9 * string, string)
        for at_s in np.arange(0, 2, 0.31).tolist()
        for string in range(4)
    ]
    return performance(player(notes), end_s=2.5)


def _slowing() -> Performance:
    """Sixteen tempos before and in the opening, that of a part which comes in late."""
    at_s, tempos, notes = 0.0, [], []
    for beat in range(16):
        quarter_s = 0.37 + 0.03 * beat
        tempos.append(TempoMark(at_s, quarter_s))
        if beat >= 8:
            notes += [Note(at_s, at_s + quarter_s, 50 + beat, 70, 0)]
            notes += [Note(at_s + quarter_s / 2, at_s + quarter_s, 62, 99, 1)]
        at_s += quarter_s
    piece = performance(player(notes), end_s=at_s)
    return Performance("", piece.tracks, tuple(tempos), (), (), (), (), at_s)


FINE: dict[str, Callable[[], Performance]] = {
    "ringing": small_band,
    "choked": lambda: small_band(2, bank=1),
    "dead": lambda: small_band(2, bank=2),
    "softest": lambda: _one(velocity=1, level=1),
    "hardest": lambda: _one(velocity=127, level=127),
    "one tick long": lambda: _one(length_s=0.0005),
    "no level": lambda: _one(level=0),
    "half a minute late": lambda: _one(start_s=30.0),
    "left": lambda: _one(pan=0),
    "right": lambda: _one(pan=127),
    "lowest": lambda: _one(pitch=0),
    "highest": lambda: _one(pitch=127),
    "long": lambda: _one(length_s=20.0),
    "quick": lambda: small_band(2, tempo_bpm=400),
    "unison": _unison,
    "slowing down": _slowing,
    "one click": lambda: performance(clicks([Note(0.0, 0.01, 76, 1, 9)]), end_s=0.1),
}


@pytest.mark.many(4, 99)
@pytest.mark.parametrize("name", FINE)
def test_a_fine_stem_passes(name: str) -> None:
    piece = FINE[name]()
    for place in range(len(piece.tracks)):
        assert apart(stem(piece, place)) <= ALLOWED / 10


@pytest.mark.parametrize("rate", [22_050, 48_000, 96_000])
def test_at_any_sample_rate(rate: int) -> None:
    assert apart(stem(small_band()), rate=rate) <= ALLOWED / 10


@pytest.mark.many(5, 99)
@pytest.mark.parametrize("program", range(0, 128, 5))
def test_any_instrument_passes(program: int) -> None:
    """Pads that swell, loops, noises, basses: a note, a chord and a note again."""
    notes = [
        Note(at_s, at_s + length_s, pitch, velocity, 0)
        for at_s, length_s, pitch, velocity in (
            (0.1, 0.2, 60, 50), (0.5, 0.9, 48, 110), (0.5, 0.4, 55, 90), (1.0, 1.5, 60, 127),
        )
    ]  # fmt: skip
    track = Track("Any", "band", program, (0,), tuple(notes))
    assert apart(stem(performance(track, end_s=2.6))) <= ALLOWED / 10


def test_a_user_s_font_and_a_voice_pass(tmp_path: Path) -> None:
    """Also one that lacks the instrument, so that another sound or none stands for it."""
    banks = [(bank, BANJO) for bank in (0, 1, 2)]
    banks += [(voice_bank(0, string), BANJO) for string in (1, 2, 3, 4)]
    for number, presets in enumerate((tuple(banks), ((0, BASS),), ((128, 0),))):
        path = soundfont_file(tmp_path / f"{number}.sf2", presets=presets, frequency_hz=441)
        font = read_soundfont(path)
        piece = small_band(2)
        for track in piece.tracks:
            assert apart(track_midi(piece, track, Fonts(font)), font) <= ALLOWED / 10
            assert apart(track_midi(piece, track, Fonts(FONT, font)), font) <= ALLOWED / 10


@pytest.mark.parametrize("piece", [small_band(), small_band(1, bank=1), _slowing()])
def test_the_opening_is_what_mido_reads(piece: Performance) -> None:
    midi = midi_bytes(piece)
    opening = read_opening(midi, 1e6, RATE)
    assert opening is not None
    expected, now_s = [], 0.0
    for message in mido.MidiFile(file=io.BytesIO(midi)):
        now_s += message.time
        if not message.is_meta:
            expected.append((now_s, bytes(message.bin())))
    assert [bytes([status]) + data for _, status, data in opening.messages] == [
        data for _, data in expected
    ]
    for (step, *_), (at_s, _) in zip(opening.messages, expected, strict=True):
        assert abs(step * 64 / RATE - at_s) < 0.003  # half a tick, a step and a millisecond
    first_s = next(at_s for at_s, data in expected if data[0] >> 4 == 9)
    assert opening.start * 64 / RATE == pytest.approx(first_s, abs=0.003)


def test_an_opening_ends(tmp_path: Path) -> None:
    piece = small_band(4)
    whole, part = (read_opening(stem(piece), seconds, RATE) for seconds in (1e6, 2.0))
    assert whole is not None
    assert part is not None
    assert part.messages == whole.messages[: len(part.messages)]
    steps = [step for step, *_ in part.messages]
    assert steps[-1] - part.start < 2.0 * RATE / 64 <= whole.messages[len(steps)][0] - part.start
    assert read_opening(midi_bytes(performance(player([]), end_s=1.0)), 2.0, RATE) is None


@pytest.mark.parametrize(
    ("gain", "expected"), [(1.0, 0.0), (10**0.5, 9.0), (10**-0.5, 0.9), (10**0.05, 0.26)]
)
def test_the_distance_of_a_level(gain: float, expected: float) -> None:
    sound = np.random.default_rng(1).standard_normal((RATE, 2)).astype(np.float32)
    assert distance(sound * np.float32(gain), sound, RATE) == pytest.approx(expected, abs=0.01)


def test_silence_where_silence_is_asked() -> None:
    silence, sound = np.zeros((RATE, 2), np.float32), np.ones((RATE, 2), np.float32)
    assert distance(silence, silence, RATE) == 0.0
    assert distance(sound, silence, RATE) == float("inf")
    assert distance(silence[:10], sound, RATE) == 1.0
    assert distance(sound[:, ::-1] * [0, 1], sound * [1, 0], RATE) == 2.0  # at the wrong side
