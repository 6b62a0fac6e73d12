"""The SoundFont writer, read back by sf2utils and played by FluidSynth."""

from __future__ import annotations

import logging
import struct
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from accomp.voice import riff
from accomp.voice.soundfont import (
    Font,
    FontInstrument,
    Generator,
    Preset,
    Sample,
    Zone,
    encode,
    timecents,
)
from benchmarks.voice_ear import Player, cents, pitch_hz, system_library, wheel_library

with warnings.catch_warnings():  # it imports audioop, which Python 3.13 no longer has
    warnings.simplefilter("ignore", DeprecationWarning)
    sf2parse = pytest.importorskip("sf2utils.sf2parse")

RATE = 44100
PAN = 17  # generators that we do not write ourselves (8.1.2)


def _sine(hz: float = 440.0, seconds: float = 0.5) -> np.ndarray:
    return 0.5 * np.sin(2 * np.pi * hz * np.arange(round(seconds * RATE)) / RATE)


def _font(**changes: object) -> Font:
    sample = Sample("sine", _sine(), RATE, 69, -7)
    zone = Zone(0, (10, 90), (5, 120), ((Generator.VOLUME_RELEASE, timecents(0.25)),))
    values = {
        "name": "Test font",
        "samples": (sample, Sample("other", _sine(220.0, 0.1), RATE // 2, 57)),
        "instruments": (
            FontInstrument("one", (Zone(None, settings=((PAN, -100),)), zone)),
            FontInstrument("two", (Zone(1),)),
        ),
        "presets": (
            Preset("second", 2, 105, (Zone(1),)),
            Preset("first", 0, 105, (Zone(0, velocities=(1, 127)),)),
        ),
        **changes,
    }
    return Font(**values)  # type: ignore[arg-type]


def _read(tmp_path: Path, font: Font) -> Any:
    path = tmp_path / "font.sf2"
    path.write_bytes(encode(font))
    with path.open("rb") as stream:
        file = sf2parse.Sf2File(stream)
        assert file.presets
        assert file.instruments
        assert file.samples
    return file


def test_sf2utils_reads_what_was_written(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.INFO):
        file = _read(tmp_path, _font())
    assert not [record for record in caplog.records if record.levelno >= logging.WARNING]
    assert file.info.bank_name == "Test font"
    # The last of each is the closing row that the specification (7.2, 7.6, 7.10) asks for.
    assert [(p.name, p.bank, p.preset) for p in file.presets[:-1]] == [
        ("first", 0, 105),
        ("second", 2, 105),
    ]
    assert [instrument.name for instrument in file.instruments[:-1]] == ["one", "two"]
    sample = file.samples[0]
    assert (sample.original_pitch, sample.pitch_correction, sample.sample_rate) == (69, -7, RATE)
    assert sample.duration == RATE // 2
    zone = file.instruments[0].bags[1]
    assert zone.key_range == [10, 90]
    assert zone.velocity_range == [5, 120]
    assert zone.sample is file.samples[0]
    assert zone.volume_envelope_release == pytest.approx(0.25, rel=1e-3)
    assert file.presets[1].bags[0].instrument is file.instruments[1]


def test_sample_data_survive_and_are_followed_by_silence(tmp_path: Path) -> None:
    data = encode(_font())
    start = data.index(b"smpl") + 8
    size = struct.unpack("<I", data[start - 4 : start])[0]
    words = np.frombuffer(data[start : start + size], "<i2")
    sine = _sine()
    assert np.abs(words[: sine.size] / 32767 - sine).max() < 1 / 32767
    # Specification 6.1: at least 46 zero points after each sample.
    assert not words[sine.size : sine.size + 46].any()
    assert not words[-46:].any()


def test_loop_points_lie_inside(tmp_path: Path) -> None:
    for sample in _read(tmp_path, _font()).samples[:-1]:
        # Specification 6.2 and 7.10: at least 32 points long, 8 points of room at each side.
        assert sample.start_loop >= 8
        assert sample.end_loop - sample.start_loop >= 32
        assert sample.duration - sample.end_loop >= 8


def test_every_chunk_has_an_even_length_and_the_file_its_own() -> None:
    data = encode(_font(name="odd"))
    assert data[:4] == b"RIFF"
    assert struct.unpack("<I", data[4:8])[0] == len(data) - 8
    position = 12
    while position < len(data):
        size = struct.unpack("<I", data[position + 4 : position + 8])[0]
        position += 8 + size + size % 2
    assert position == len(data)


@pytest.mark.parametrize("library", [wheel_library(), system_library()], ids=["wheel", "system"])
def test_fluidsynth_plays_it_in_tune(tmp_path: Path, library: str | None) -> None:
    if library is None:
        pytest.skip("this FluidSynth is not on the machine")
    path = tmp_path / "font.sf2"
    path.write_bytes(encode(_font()))
    player = Player(path, library)
    for key in (69, 72, 57):
        hz = 440.0 * 2 ** ((key - 69) / 12)
        heard = pitch_hz(player.note(key, 100, held_s=0.4, rest_s=0.1), hz)
        assert cents(heard, hz) == pytest.approx(-7.0, abs=0.6)
    player.close()


def test_the_same_font_gives_the_same_bytes() -> None:
    assert encode(_font()) == encode(_font())


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"samples": (Sample("loud", _sine() * 3, RATE, 69),)}, "exceeds ±1"),
        ({"samples": (Sample("nan", _sine() * np.nan, RATE, 69),)}, "not a number"),
        ({"samples": (Sample("short", _sine()[:20], RATE, 69),)}, "too short"),
        ({"samples": (Sample("a name far too long", _sine(), RATE, 69),) * 2}, None),
        ({"samples": (Sample("a name that is far too long", _sine(), RATE, 69),) * 2}, "1 to 19"),
        ({"presets": (Preset("p", 129, 0, ()),)}, "between 0 and 128"),
        ({"presets": (Preset("p", 1, 0, ()), Preset("q", 1, 0, ()))}, "one bank and program"),
        ({"presets": (Preset("p", 1, 0, (Zone(0),) * 70000),)}, "16 bits"),
    ],
)
def test_what_the_format_cannot_hold_is_refused(
    changes: dict[str, object], message: str | None
) -> None:
    if message is None:
        assert encode(_font(**changes))
        return
    with pytest.raises(ValueError, match=message):
        encode(_font(**changes))


def test_riff_chunks_are_padded_and_named() -> None:
    assert riff.chunk("abcd", b"xyz") == b"abcd\x03\0\0\0xyz\0"
    assert riff.text("INAM", "even") == b"INAM\x06\0\0\0even\0\0"
    assert riff.text("INAM", "odd") == b"INAM\x04\0\0\0odd\0"
    with pytest.raises(ValueError, match="four ASCII letters"):
        riff.chunk("toolong", b"")
