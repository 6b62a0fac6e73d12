"""Reading a font back, cutting it down, and writing it with packed samples."""

from __future__ import annotations

import io
import warnings
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from accomp.voice.soundfont import (
    DRUM_BANK,
    PACKED,
    Font,
    FontInstrument,
    Preset,
    Sample,
    Zone,
    encode,
)
from accomp.voice.soundfont_read import read_font
from accomp.voice.trim import trimmed

with warnings.catch_warnings():  # it imports audioop, which Python 3.13 no longer has
    warnings.simplefilter("ignore", DeprecationWarning)
    sf2parse = pytest.importorskip("sf2utils.sf2parse")

RATE = 22050
PAN, SAMPLE_MODES = 17, 54  # generators that we do not write ourselves (8.1.2)


def _tone(hz: float, size: int = 9000) -> np.ndarray:
    return np.sin(2 * np.pi * hz * np.arange(size) / RATE)


def _font() -> Font:
    samples = (
        Sample("low", _tone(220.0), RATE, 57, loop=(100, 8000)),
        Sample("high", _tone(880.0), RATE, 81, -3),
        Sample("drum", np.random.default_rng(3).uniform(-1, 1, 7001), RATE, 60),
    )
    glides = (bytes(range(10)),)
    instruments = (
        FontInstrument(
            "strings",
            (
                Zone(None, settings=((PAN, 0xFF9C),)),
                Zone(0, (0, 69), settings=((SAMPLE_MODES, 1),), modulators=glides),
                Zone(1, (70, 127), (64, 127)),
            ),
        ),
        FontInstrument("drums", (Zone(2, (36, 36)),)),
    )
    presets = (
        Preset("soft", 0, 24, (Zone(None, settings=((48, 10),)), Zone(0, velocities=(1, 90)))),
        Preset("kit", DRUM_BANK, 0, (Zone(1),)),
    )
    return Font("Whole", samples, instruments, presets, author="a", copyright="b", comment="c")


def _written(tmp_path: Path, font: Font, **how: object) -> Path:
    path = tmp_path / "font.sf2"
    path.write_bytes(encode(font, **how))  # type: ignore[arg-type]
    return path


def _ogg(sample: Sample) -> bytes | None:
    import soundfile

    if sample.name == "low":
        return None
    buffer = io.BytesIO()
    soundfile.write(buffer, sample.data, sample.rate_hz, format="OGG", subtype="VORBIS")
    return buffer.getvalue()


def test_what_is_read_is_written_again_byte_for_byte(tmp_path: Path) -> None:
    path = _written(tmp_path, _font())
    assert encode(read_font(path)) == path.read_bytes()
    font = read_font(path)
    assert font.instruments == _font().instruments
    assert font.samples[0].loop == (100, 8000)


def test_a_font_of_somebody_else_comes_back_the_same(tmp_path: Path) -> None:
    from accomp.write.soundfont import default_soundfont

    whole = read_font(default_soundfont().path)
    again = read_font(_written(tmp_path, whole))
    assert again.presets == tuple(sorted(whole.presets, key=lambda one: (one.bank, one.program)))
    assert again.instruments == whole.instruments
    assert all(
        np.array_equal(a.data, b.data) and a.rate_hz == b.rate_hz
        for a, b in zip(again.samples, whole.samples, strict=True)
    )


@pytest.mark.parametrize("data", [b"", b"RIFF", b"not a font at all", b"RIFF\x20\0\0\0sfbkLIST"])
def test_what_is_no_font_is_said(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "wrong.sf2"
    path.write_bytes(data)
    with pytest.raises(ValueError, match="SoundFont"):
        read_font(path)
    path.write_bytes(b"FFIR" + _written(tmp_path, _font()).read_bytes()[4:])
    with pytest.raises(ValueError, match="not a SoundFont"):
        read_font(path)


def test_a_cut_font_is_said(tmp_path: Path) -> None:
    path = _written(tmp_path, _font())
    path.write_bytes(path.read_bytes()[:-300])
    with pytest.raises(ValueError, match="damaged"):
        read_font(path)


def test_only_what_a_note_meets_is_kept() -> None:
    small = trimmed(_font(), [(0, 24, 60, 80)])
    assert [sample.name for sample in small.samples] == ["low"]
    assert [preset.name for preset in small.presets] == ["soft"]
    zones = small.instruments[0].zones
    assert [zone.target for zone in zones] == [None, 0]
    assert zones[1].modulators == (bytes(range(10)),)
    assert not trimmed(_font(), [(0, 24, 60, 91)]).presets, "too loud for any zone"
    assert not trimmed(_font(), [(0, 24, 75, 60)]).samples, "too soft for the high sample"
    drums = trimmed(_font(), [(DRUM_BANK, 0, 36, 100)])
    assert [sample.name for sample in drums.samples] == ["drum"]
    assert drums.presets[0].zones[0].target == 0


def test_a_trimmed_font_sounds_as_the_whole_one(tmp_path: Path) -> None:
    from accomp.score.performance import Note, Performance, TempoMark, Track
    from accomp.write.audio.render import render
    from accomp.write.midi import midi_bytes
    from accomp.write.soundfont import default_soundfont, read_soundfont

    notes = tuple(Note(i * 0.2, i * 0.2 + 0.15, 36 + i, 60 + 8 * i, 0) for i in range(6))
    hits = tuple(Note(i * 0.2, i * 0.2 + 0.1, key, 90, 9) for i, key in enumerate((36, 38, 42)))
    tracks = (Track("Bass", "band", 32, (0,), notes), Track("Drums", "band", 0, (9,), hits))
    midi = midi_bytes(Performance("", tracks, (TempoMark(0.0, 0.5),), (), (), (), (), end_s=1.4))
    whole = default_soundfont()
    played = [(0, 32, note.pitch, note.velocity) for note in notes]
    played += [(DRUM_BANK, 0, note.pitch, note.velocity) for note in hits]
    path = _written(tmp_path, trimmed(read_font(whole.path), played))
    assert path.stat().st_size < whole.path.stat().st_size / 10
    ours, theirs = render(midi, [read_soundfont(path)]), render(midi, [whole])
    assert np.abs(theirs).max() > 0.01
    # A sample at -32768 is written as -32767: nobody hears it.
    np.testing.assert_allclose(ours, theirs, atol=1e-5)


def test_packed_samples_are_found_by_another_reader(tmp_path: Path) -> None:
    import soundfile

    font = _font()
    path = _written(tmp_path, font, pack=_ogg)
    with path.open("rb") as stream:
        read = sf2parse.Sf2File(stream)
        headers = read.raw.pdta["Shdr"][:-1]
    data = path.read_bytes()
    start = data.index(b"smpl") + 8
    assert data[data.index(b"ifil") + 8 :][:4] == b"\x03\0\0\0"
    assert [bool(one.sample_type & PACKED) for one in headers] == [False, True, True]
    plain, *packed = headers
    assert (plain.start, plain.end) == (0, 9000)
    assert (plain.start_loop, plain.end_loop) == (100, 8000)
    for header, sample in zip(packed, font.samples[1:], strict=True):
        stream = io.BytesIO(data[start + header.start : start + header.end])
        sound, rate = soundfile.read(stream)
        assert rate == sample.rate_hz
        assert len(sound) == sample.data.size
        if sample.name == "high":
            difference = np.sqrt(np.mean((sound - sample.data) ** 2)) / np.std(sample.data)
            assert difference < 10 ** (-25 / 20)


def test_fluidsynth_plays_packed_samples(tmp_path: Path) -> None:
    """FluidSynth raises each packed stream to full scale, so that samples that fill it keep their
    level, and others come out louder by what they lack of it."""
    from accomp.score.performance import Note, Performance, TempoMark, Track
    from accomp.write.audio.render import render
    from accomp.write.midi import midi_bytes
    from accomp.write.soundfont import read_soundfont

    track = Track("x", "band", 24, (0,), (Note(0.0, 0.3, 81, 80, 0),))
    midi = midi_bytes(Performance("", (track,), (TempoMark(0.0, 0.5),), (), (), (), (), end_s=0.4))
    levels = {}
    for scale in (1.0, 0.5):
        font = _font()
        quiet = tuple(replace(one, data=one.data * scale) for one in font.samples)
        for packing in (None, _ogg):
            # A file of its own each: FluidSynth knows a font again by its path.
            folder = tmp_path / f"{scale} {packing is None}"
            folder.mkdir()
            path = _written(folder, replace(font, samples=quiet), pack=packing)
            sound = render(midi, [read_soundfont(path)])
            levels[scale, packing is None] = float(np.sqrt(np.mean(sound[2000:8000] ** 2)))
    assert levels[1.0, False] == pytest.approx(levels[1.0, True], rel=0.1)
    assert levels[0.5, True] == pytest.approx(levels[1.0, True] / 2, rel=0.01)
    assert levels[0.5, False] == pytest.approx(levels[1.0, True], rel=0.1)


def test_equal_fonts_give_equal_bytes_and_wrong_loops_are_refused() -> None:
    assert encode(_font()) == encode(_font())
    broken = replace(_font().samples[0], loop=(10, 9001))
    with pytest.raises(ValueError, match="loop"):
        encode(replace(_font(), samples=(broken, *_font().samples[1:])))
