"""SoundFonts: what is read from them, and what is said about bad ones."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from audio_pieces import soundfont_file

from accomp.errors import SoundError
from accomp.write.audio.fonts import choose_fonts
from accomp.write.soundfont import DRUM_BANK, default_soundfont, read_soundfont


def test_the_default_font_has_all_of_general_midi() -> None:
    # Source: General MIDI 1: 128 programs and a drum kit.
    font = default_soundfont()
    assert font.path.name == "TimGM6mb.sf2"
    assert {program for bank, program in font.presets if bank == 0} == set(range(128))
    assert font.has(DRUM_BANK, 0)
    assert not font.has(1, 105)


def test_name_and_presets_are_read(tmp_path: Path) -> None:
    path = soundfont_file(tmp_path / "a.sf2", name="Voice", presets=((0, 105), (1, 105), (2, 105)))
    font = read_soundfont(path)
    assert font.name == "Voice"
    assert font.presets == {(0, 105), (1, 105), (2, 105)}


def test_without_a_name_inside_the_file_s_name_stands(tmp_path: Path) -> None:
    assert read_soundfont(soundfont_file(tmp_path / "plain.sf2", name="")).name == "plain"


def test_control_signs_in_a_name_are_not_passed_on(tmp_path: Path) -> None:
    name = read_soundfont(soundfont_file(tmp_path / "a.sf2", name="Ba\x1b[31mnjo\n")).name
    assert name == "Ba [31mnjo"


def _bad(tmp_path: Path, data: bytes) -> Path:
    path = tmp_path / "bad.sf2"
    path.write_bytes(data)
    return path


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "not a SoundFont: it is empty"),
        (b"RIFF\x04\x00\x00\x00WAVE", r"it begins with b'RIFF.*WAVE', expected RIFF \.\.\. sfbk"),
        (b"MThd" + bytes(20), "it begins with b'MThd"),
        (b"RIFF\x04\x00\x00\x00sfbk", r"damaged: its list of presets \(phdr\) is missing"),
    ],
)
def test_what_is_no_soundfont(tmp_path: Path, data: bytes, message: str) -> None:
    path = _bad(tmp_path, data)
    with pytest.raises(SoundError, match=f"{re.escape(str(path))}: .*{message}"):
        read_soundfont(path)


def test_a_cut_font(tmp_path: Path) -> None:
    whole = soundfont_file(tmp_path / "a.sf2").read_bytes()
    with pytest.raises(SoundError, match=f"damaged: 1000 bytes .* promises {len(whole)}"):
        read_soundfont(_bad(tmp_path, whole[:1000]))


def test_a_font_without_presets(tmp_path: Path) -> None:
    with pytest.raises(SoundError, match="holds no sounds"):
        read_soundfont(soundfont_file(tmp_path / "a.sf2", presets=()))


def test_a_missing_font_and_a_folder(tmp_path: Path) -> None:
    with pytest.raises(SoundError, match=r"none\.sf2: there is no such file\. Check the name"):
        read_soundfont(tmp_path / "none.sf2")
    with pytest.raises(SoundError, match="this is a folder"):
        read_soundfont(tmp_path)


def test_any_damage_is_an_error_of_ours_or_none(tmp_path: Path) -> None:
    whole = soundfont_file(tmp_path / "a.sf2").read_bytes()
    for place in range(0, len(whole), 37):
        damaged = bytearray(whole)
        damaged[place] ^= 0xFF
        try:
            read_soundfont(_bad(tmp_path, bytes(damaged)))
        except SoundError as error:
            assert "bad.sf2" in str(error)  # noqa: PT017  not every damage must be seen


def test_where_drums_cannot_be_built_the_plain_font_plays_and_it_is_said(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def full(base: Path, progress: object = None) -> Path:
        raise SoundError("no room.")

    monkeypatch.setattr("accomp.voice.kit.band_font", full)
    fonts = choose_fonts(None, None)
    assert fonts.band == default_soundfont()
    assert fonts.notices == ("The General MIDI sounds are used for drums and bass: no room.",)


def test_a_font_that_is_named_plays_everybody(tmp_path: Path) -> None:
    path = soundfont_file(tmp_path / "a.sf2", presets=((0, 0),))
    assert choose_fonts(path, None).band == read_soundfont(path)


def test_by_default_drums_and_bass_are_the_modelled_ones() -> None:
    assert choose_fonts(None, None).band.name == "TimGM6mb, drums and bass modelled"
