"""The player's own voice: banks by string and stroke, takes in turn, its place in the band."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from audio_pieces import BANJO, band, performance, player, small_band, soundfont_file

from accomp.score.performance import Note
from accomp.voice import voice_bank, voice_font
from accomp.write.audio import Rendering, write_audio
from accomp.write.audio.balance import voice_gain_db
from accomp.write.audio.fonts import Fonts, choose_fonts
from accomp.write.audio.hand import by_hand, strings_apart
from accomp.write.audio.loudness import loudness_lufs
from accomp.write.audio.render import render
from accomp.write.audio.spool import InMemory
from accomp.write.audio.stems import track_midi
from accomp.write.soundfont import SoundFont, band_soundfont, default_soundfont, read_soundfont
from benchmarks.stems import render_stems

RATE = 44_100


@pytest.fixture
def voice(tmp_path: Path) -> SoundFont:
    """Banks of a voice for four strings (ring, choke, up-strokes), all of one sine."""
    presets = [(bank, BANJO) for bank in (0, 1, 2)]
    for string in (1, 2, 3, 4):
        presets += [(voice_bank(variant, string), BANJO) for variant in (0, 1)]
        presets.append((voice_bank(0, string, up=True), BANJO))
    path = tmp_path / "voice.sf2"
    return read_soundfont(soundfont_file(path, name="Voice", presets=tuple(presets)))


def _notes(*rows: tuple[int, int, bool, int]) -> list[Note]:
    """(channel, bank, up, velocity), a second apart."""
    return [
        Note(float(n), n + 0.9, 60, velocity, channel, bank, up)
        for n, (channel, bank, up, velocity) in enumerate(rows)
    ]


def test_each_string_and_stroke_has_its_bank(voice: SoundFont) -> None:
    notes = _notes((0, 0, False, 80), (3, 1, False, 80), (1, 0, True, 80))
    played = by_hand(player(notes), voice).notes
    # Channel 0 is the fourth string, channel 3 the first.
    assert [note.bank for note in played] == [
        voice_bank(0, 4),
        voice_bank(1, 1),
        voice_bank(0, 3, up=True),
    ]


def test_a_bank_that_the_voice_lacks_falls_back(voice: SoundFont) -> None:
    notes = _notes((0, 2, False, 80), (0, 1, True, 80))  # no dead strokes by string, no up-chokes
    assert [note.bank for note in by_hand(player(notes), voice).notes] == [2, 1]


def test_takes_alternate_on_each_string(voice: SoundFont) -> None:
    rows = [(n % 2, 0, False, velocity) for n, velocity in enumerate((80, 80, 80, 81, 81, 1, 127))]
    played = by_hand(player(_notes(*rows)), voice).notes
    for channel in (0, 1):
        turns = [note.velocity % 2 for note in played if note.channel == channel]
        assert turns == [(n + 1) % 2 for n in range(len(turns))]
    assert all(
        abs(new.velocity - old[3]) <= 1 and new.velocity >= 1
        for new, old in zip(played, rows, strict=True)
    )


def test_a_plain_font_gets_the_track_as_it_is() -> None:
    track = player(_notes((0, 1, True, 80)))
    assert by_hand(track, default_soundfont()) is track


def test_strings_stand_side_by_side_round_the_player_s_place() -> None:
    track = player(_notes((0, 0, False, 80), (3, 0, False, 80)), pan=44)
    strings = strings_apart(track)
    pans = [each.pan for each in strings]
    assert pans == sorted(pans)
    assert len(set(pans)) == 4
    assert sum(pans) / 4 == pytest.approx(44, abs=0.6)
    assert max(pans) - min(pans) <= 16
    assert [note for each in strings for note in each.notes] == list(track.notes)
    assert {each.channels for each in strings} == {(0,), (1,), (2,), (3,)}


@pytest.mark.parametrize("pan", [0, 127])
def test_a_player_at_one_edge_stays_there(pan: int) -> None:
    track = player(_notes((0, 0, False, 80)), pan=pan)
    assert strings_apart(track) == (track,)


def test_the_band_is_not_touched() -> None:
    track = band([Note(0.0, 1.0, 36, 90, 10)])
    assert strings_apart(track) == (track,)


@pytest.mark.parametrize("amplitude", [0.1, 0.9])
def test_the_voice_is_as_loud_as_the_band_s_own_banjo(tmp_path: Path, amplitude: float) -> None:
    path = soundfont_file(tmp_path / "v.sf2", presets=((0, BANJO),), amplitude=amplitude)
    voiced, plain = read_soundfont(path), default_soundfont()
    gain_db = voice_gain_db(voiced, plain, BANJO)
    notes = [
        Note(n / 3, (n + 1) / 3, pitch, 90, string)
        for n in range(6)
        for string, pitch in enumerate((50, 57, 62, 66))
    ]
    piece = performance(player(notes), end_s=2.0)
    track = piece.tracks[0]
    loudness = [
        loudness_lufs(InMemory(render(track_midi(piece, track, Fonts(plain)), [font])), RATE)
        for font in (voiced, plain)
    ]
    assert loudness[0] + gain_db == pytest.approx(loudness[1], abs=2.0)


def test_the_voice_s_gain_is_nothing_without_a_measure(tmp_path: Path) -> None:
    piano = read_soundfont(soundfont_file(tmp_path / "p.sf2", presets=((0, 0),)))
    assert voice_gain_db(default_soundfont(), piano, BANJO) == 0.0
    path = soundfont_file(tmp_path / "s.sf2", presets=((0, BANJO),), amplitude=0.0)
    assert voice_gain_db(read_soundfont(path), default_soundfont(), BANJO) == 0.0, "all is silence"


def test_the_voice_is_heard_and_named(voice: SoundFont, tmp_path: Path) -> None:
    piece = small_band(1, bank=1)
    report = write_audio(piece, tmp_path / "a.flac", Rendering(voice=voice.path))
    assert report.soundfont == f"Voice (player), {band_soundfont().name} (band)"
    assert report.notices == ()
    stems = render_stems(piece, rendering=Rendering(voice=voice.path, room=False))
    plain = render_stems(piece, rendering=Rendering(room=False))
    assert np.abs(stems["player"]).max() > 0.05
    # All keys of the made font sound one sine, transposed: no trace of the other font's noise.
    assert not np.allclose(stems["player"][: 2 * RATE], plain["player"][: 2 * RATE], atol=1e-3)


@pytest.mark.slow
def test_a_damaged_voice_makes_a_notice_and_sound_all_the_same(tmp_path: Path) -> None:
    path = tmp_path / "voice.sf2"
    path.write_bytes(b"RIFF")
    report = write_audio(small_band(1), tmp_path / "a.flac", Rendering(voice=path))
    assert report.soundfont == band_soundfont().name
    assert len(report.notices) == 1
    assert "not with their own voice" in report.notices[0]
    assert report.loudness_lufs == pytest.approx(-16, abs=0.5)


@pytest.mark.long  # the voice is built on first use, which takes up to a minute
def test_the_real_voice_chokes_and_is_loud_enough(tmp_path: Path) -> None:
    fonts = choose_fonts(None, voice_font())
    assert fonts.voice is not None
    piece = small_band(2, bank=1)
    stem = render(track_midi(piece, piece.tracks[0], fonts), fonts.of(piece.tracks[0]))
    hop = RATE // 200
    level = np.abs(stem).max(axis=1)
    level = level[: len(level) // hop * hop].reshape(-1, hop).max(axis=1)
    fall_db = 20 * np.log10(level / level.max() + 1e-9)
    for beat in range(5, 12):
        before = round(beat * 200 / 3)
        assert fall_db[before - 6 : before - 2].max() < -40
    report = write_audio(piece, tmp_path / "a.flac", Rendering(voice=fonts.voice.path))
    # Choked strums stand some 16 dB above their average: what the limiter may not take is said.
    assert -17.5 < report.loudness_lufs < -15.5
    assert bool(report.notices) == (report.loudness_lufs < -16.5)
