"""Dry sound: when notes begin, which pitches they have, how they end.

The oracle for attacks is another route: pyfluidsynth's own note-on calls, without a MIDI file.
"""

from __future__ import annotations

import ctypes
import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from audio_pieces import BANJO, CLICK, clicks, performance, player, small_band, soundfont_file

from accomp.errors import SoundError
from accomp.score.performance import Note, Performance
from accomp.write.audio import fontsynth
from accomp.write.audio.fonts import Fonts, choose_fonts
from accomp.write.audio.render import render
from accomp.write.audio.spool import Samples
from accomp.write.audio.stems import track_midi
from accomp.write.midi import midi_bytes
from accomp.write.soundfont import (
    DRUM_BANK,
    SoundFont,
    band_soundfont,
    default_soundfont,
    read_soundfont,
)
from accomp.write.synth import load_synth

RATE = 44_100


@pytest.fixture(scope="module")
def font() -> SoundFont:
    return default_soundfont()


def _played(piece: Performance, font: SoundFont, place: int = 0) -> Samples:
    return render(track_midi(piece, piece.tracks[place], Fonts(font)), [font])


def _envelope(sound: Samples, frames: int) -> npt.NDArray[np.float64]:
    """The peak of each `frames` frames."""
    level = np.abs(sound).max(axis=1)
    return level[: len(level) // frames * frames].reshape(-1, frames).max(axis=1).astype(float)


def _rise_s(sound: Samples) -> float:
    """When the sound first reaches half of its greatest peak."""
    level = np.abs(sound).max(axis=1)
    return float(np.argmax(level >= level.max() / 2)) / RATE


def _struck_alone(font: SoundFont, channel: int, program: int, keys: list[int]) -> Samples:
    """Half a second of a chord struck at time 0 by direct calls."""
    fl = load_synth().api
    settings = fl.new_fluid_settings()
    fl.fluid_settings_setnum(settings, b"synth.sample-rate", float(RATE))
    for name in (b"synth.reverb.active", b"synth.chorus.active"):
        fl.fluid_settings_setint(settings, name, 0)
    synth = fl.new_fluid_synth(settings)
    try:
        number = fl.fluid_synth_sfload(synth, str(font.path).encode(), 1)
        if channel != 9:
            fl.fluid_synth_program_select(synth, channel, number, 0, program)
        for key in keys:
            fl.fluid_synth_noteon(synth, channel, key, 90)
        frames = RATE // 2
        out = np.zeros((frames, 2), np.int16)
        place = out.ctypes.data_as(ctypes.c_void_p)
        fl.fluid_synth_write_s16(synth, frames, place, 0, 2, place, 1, 2)
        return out.astype(np.float32) / 32_768
    finally:
        fl.delete_fluid_synth(synth)
        fl.delete_fluid_settings(settings)


def test_count_in_clicks_begin_where_they_are_written(font: SoundFont) -> None:
    starts_s = [0.0, 0.4, 0.8, 1.2]
    piece = performance(
        clicks([Note(at, at + 0.1, CLICK, 90, 9) for at in starts_s]), end_s=1.6, quarter_s=0.4
    )
    sound = _played(piece, font)
    attack_s = _rise_s(_struck_alone(font, 9, 0, [CLICK]))
    for at in starts_s:
        piece_of = sound[round(at * RATE) : round((at + 0.3) * RATE)]
        assert abs(_rise_s(piece_of) - attack_s) < 0.010
    # And the plain reading, without taking any attack off: a wood block is quick enough.
    assert _rise_s(sound[: RATE // 4]) < 0.010


@pytest.mark.parametrize("start_s", [0.5, 1.2345, 2.0])
def test_a_stroke_begins_where_it_is_written(font: SoundFont, start_s: float) -> None:
    chord = [48, 55, 64, 72]
    notes = [Note(start_s, start_s + 0.8, key, 90, string) for string, key in enumerate(chord)]
    sound = _played(performance(player(notes), end_s=start_s + 1), font)
    attack_s = _rise_s(_struck_alone(font, 0, BANJO, chord))
    assert abs(_rise_s(sound[: round((start_s + 0.5) * RATE)]) - attack_s - start_s) < 0.010
    assert not np.abs(sound[: round(start_s * RATE) - 64]).any()  # nothing before it


def test_the_pitches_of_a_slow_chord_stand_in_its_spectrum(font: SoundFont) -> None:
    # Source: equal temperament, A4 = 440 Hz (ISO 16), MIDI key 69 = A4.
    chord = [50, 57, 62, 66]
    notes = [Note(0.0, 3.0, key, 90, string) for string, key in enumerate(chord)]
    sound = _played(performance(player(notes), end_s=3.0), font)[: 3 * RATE // 2].sum(axis=1)
    size = 1 << 19  # bins of 0.084 Hz by zeros added
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound)), size))
    for key in chord:
        wanted_hz = 440 * 2 ** ((key - 69) / 12)
        bins = np.arange(size // 2 + 1) * RATE / size
        near = np.abs(1200 * np.log2(np.maximum(bins, 1) / wanted_hz)) < 50
        found_hz = bins[near][np.argmax(spectrum[near])]
        assert abs(1200 * np.log2(found_hz / wanted_hz)) < 15  # cents
        # It is a peak of its own: well over what lies half a semitone away.
        edges = np.abs(np.abs(1200 * np.log2(np.maximum(bins, 1) / wanted_hz)) - 50) < 5
        assert spectrum[near].max() > 5 * spectrum[edges].max()


def test_two_renderings_have_the_same_bits(font: SoundFont) -> None:
    midi = midi_bytes(small_band())
    assert np.array_equal(render(midi, [font]), render(midi, [font]))


def test_a_font_that_stayed_loaded_gives_the_bits_of_one_just_loaded(tmp_path: Path) -> None:
    """Whatever it played before; and a changed file of its name is loaded anew."""
    path = tmp_path / "voice.sf2"
    band = read_soundfont(soundfont_file(tmp_path / "band.sf2", presets=((0, BANJO), (0, 32))))
    voice = read_soundfont(soundfont_file(path, presets=((0, BANJO), (1, BANJO), (2, BANJO))))
    fonts = Fonts(band, voice)
    pieces = [small_band(1, bank=bank) for bank in (2, 0, 1)]
    midis = [(track_midi(one, one.tracks[0], fonts), (band, voice)) for one in pieces]
    midis.append((track_midi(pieces[0], pieces[0].tracks[1], fonts), (band,)))
    loaded = []
    for midi, both in midis:
        fontsynth._IDLE.clear()  # as if nothing had been played
        loaded.append(render(midi, both))
    kept = list(fontsynth._IDLE)
    for (midi, both), expected in zip(midis * 2, loaded * 2, strict=True):
        assert np.array_equal(render(midi, both), expected)
    assert set(kept) <= set(fontsynth._IDLE)
    soundfont_file(path, presets=((0, BANJO), (1, BANJO), (2, BANJO)), amplitude=0.1)
    os.utime(path, (0, 0))  # the library itself goes by whole seconds
    assert np.abs(render(*midis[0])).max() < 0.5 * np.abs(loaded[0]).max()
    for number in range(4):
        other = soundfont_file(tmp_path / f"{number}.sf2", presets=((0, BANJO),))
        render(midis[0][0], [read_soundfont(other)])
    assert len(fontsynth._IDLE) == 4


def test_the_sound_ends_with_its_last_ring(font: SoundFont) -> None:
    sound = _played(small_band(1), font)
    hops = _envelope(sound, RATE // 100)
    assert hops.max() > 0.05
    assert hops[-1] < hops.max() * 1e-3  # -60 dB
    heard = np.nonzero(hops > hops.max() * 1e-3)[0][-1] / 100
    assert len(sound) / RATE - heard < 0.6  # no long silence after it
    assert np.abs(sound[-1]).max() < 1e-6  # and no step at the very end


def test_a_loop_without_end_is_ended(tmp_path: Path) -> None:
    # A sustained note lasts as long as written, and its release is short in this font.
    font = read_soundfont(soundfont_file(tmp_path / "sine.sf2", presets=((0, BANJO),)))
    piece = performance(player([Note(0.0, 2.0, 69, 100, 0)]), end_s=2.0)
    sound = _played(piece, font)
    assert 2.0 < len(sound) / RATE < 3.0
    spectrum = np.abs(np.fft.rfft(sound[:RATE, 0]))
    assert np.argmax(spectrum) == pytest.approx(441, abs=1)


@pytest.mark.slow
def test_choked_strokes_are_short_on_a_plain_font(font: SoundFont) -> None:
    # At 180 beats a minute a choked bar falls below -40 dB before the next stroke, though this
    # font's own release takes half a second.
    piece = small_band(1, bank=1)
    hops = 20 * np.log10(_envelope(_played(piece, font), RATE // 200) + 1e-9)
    hops -= hops.max()
    beat = round(200 / 3)
    for number in range(4, 8):
        before_next = hops[(number + 1) * beat - 6 : (number + 1) * beat - 2]
        assert before_next.max() < -40
    plain = render(midi_bytes(piece), [font])  # the delivered file, as any player would sound it
    assert len(plain) > len(_played(piece, font))


def test_a_ringing_stroke_after_a_choked_one_rings_on(font: SoundFont) -> None:
    def level_db(first_bank: int) -> float:
        notes = [Note(0.0, 0.2, 60, 90, 0, first_bank), Note(0.5, 0.7, 60, 90, 0)]
        sound = _played(performance(player(notes), end_s=1.0), font)
        return float(20 * np.log10(np.abs(sound[round(0.8 * RATE) : round(0.85 * RATE)]).max()))

    assert level_db(1) == pytest.approx(level_db(0), abs=1.0)


def test_a_dead_stroke_is_duller_and_shorter_than_a_ringing_one(font: SoundFont) -> None:
    def sound(bank: int) -> Samples:
        return _played(performance(player([Note(0.0, 0.03, 60, 80, 0, bank)]), end_s=0.5), font)

    ring, dead = sound(0), sound(2)
    after = slice(round(0.1 * RATE), round(0.2 * RATE))
    assert np.square(dead[after]).sum() < 1e-4 * np.square(ring[after]).sum()
    bins = np.fft.rfftfreq(RATE // 10, 1 / RATE)

    def centroid_hz(sound: Samples) -> float:
        spectrum = np.abs(np.fft.rfft(sound[: RATE // 10, 0])) ** 2
        return float((bins * spectrum).sum() / spectrum.sum())

    assert centroid_hz(dead) < 0.8 * centroid_hz(ring)


@pytest.mark.slow
def test_the_voice_plays_the_player_and_the_band_keeps_its_font(tmp_path: Path) -> None:
    font = band_soundfont()
    path = soundfont_file(tmp_path / "voice.sf2", name="Voice", presets=((0, BANJO), (1, BANJO)))
    fonts = choose_fonts(None, path)
    piece = small_band(1, bank=1)
    banjo, bass, _ = piece.tracks
    assert [each.name for each in fonts.of(banjo)] == [font.name, "Voice"]
    assert [each.name for each in fonts.of(bass)] == [font.name]
    assert fonts.name == f"Voice (player), {font.name} (band)"
    assert fonts.plain_channels(banjo) == frozenset()  # it has choked strokes of its own
    voiced = render(track_midi(piece, banjo, fonts), fonts.of(banjo))
    assert not np.array_equal(voiced, _played(piece, font)[: len(voiced)])
    plain = Fonts(font)
    assert np.array_equal(
        render(track_midi(piece, bass, fonts), fonts.of(bass)),
        render(track_midi(piece, bass, plain), plain.of(bass)),
    )


def test_a_damaged_voice_makes_a_notice(tmp_path: Path) -> None:
    path = tmp_path / "voice.sf2"
    path.write_bytes(b"RIFF")
    fonts = choose_fonts(None, path)
    assert fonts.voice is None
    assert "not with their own voice" in fonts.notices[0]
    assert "voice.sf2" in fonts.notices[0]


def test_a_font_that_lacks_a_sound_makes_a_notice(tmp_path: Path) -> None:
    fonts = choose_fonts(soundfont_file(tmp_path / "a.sf2", name="Piano", presets=((0, 0),)), None)
    banjo, _, click = small_band().tracks
    assert "Tenor banjo: Piano has no sound for program 105" in fonts.missing(banjo)
    assert "Count-in: Piano has no drums" in fonts.missing(click)


def test_a_drum_set_that_a_font_lacks_is_its_first_one(tmp_path: Path) -> None:
    brushes = replace(small_band().tracks[2], program=40)
    plain = Fonts(read_soundfont(soundfont_file(tmp_path / "a.sf2", presets=((DRUM_BANK, 0),))))
    assert plain.program(brushes) == 0
    assert Fonts(band_soundfont()).program(brushes) == 40
    assert plain.program(small_band().tracks[0]) == BANJO


def test_a_font_that_the_synthesiser_refuses(tmp_path: Path) -> None:
    data = bytearray(soundfont_file(tmp_path / "a.sf2").read_bytes())
    at = data.index(b"ibag")
    data[at : at + 4] = b"xxxx"
    path = tmp_path / "b.sf2"
    path.write_bytes(data)
    with pytest.raises(
        SoundError, match=r"b\.sf2: FluidSynth cannot load.*It said: .+Choose another"
    ):
        render(midi_bytes(small_band(1)), [read_soundfont(path)])


def test_a_font_goes_only_to_synths_of_the_library_that_has_loaded_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Another library's would be the end of the process."""
    theirs = [(("theirs", place), place) for place in range(4)]
    monkeypatch.setattr(fontsynth, "_IDLE", list(theirs))
    ours = [(("ours", place), 10 + place) for place in range(5)]
    assert fontsynth._put_back(ours) == [10]
    assert theirs + ours[1:] == fontsynth._IDLE
    assert fontsynth._taken(("ours", 0)) is None
    assert fontsynth._taken(("ours", 2)) == 12
