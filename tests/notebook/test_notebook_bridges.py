"""Bridges hold on both sides: what the other library has is what we wrote, and comes back."""

from __future__ import annotations

import importlib
from fractions import Fraction
from pathlib import Path
from typing import Any

import mido
import music21
import numpy as np
import pretty_midi
import pytest
import soundfile

import accomp

EXAMPLES = Path(__file__).parents[2] / "examples"


def _sounding(performance: accomp.Performance) -> list[tuple[float, int, int]]:
    """(start, pitch, velocity) of every note of the strummed part, doubled pitches once."""
    track = performance.tracks[0]
    return sorted({(round(n.start_s, 3), n.pitch, n.velocity) for n in track.notes})


def test_mido_has_every_note_at_its_time(piece: accomp.Piece) -> None:
    performance = piece.perform()
    file = performance.to_mido()
    assert isinstance(file, mido.MidiFile)
    assert (file.type, file.ticks_per_beat) == (1, 480)
    assert [track.name for track in file.tracks[1:]] == [t.name for t in performance.tracks]
    now, heard = 0.0, []
    for message in file:
        now += message.time
        if message.type == "note_on" and message.velocity and message.channel in (0, 1, 2, 3):
            heard.append((now, message.note, message.velocity))
    ours = _sounding(performance)
    assert len(heard) == pytest.approx(len(ours), abs=2)  # equal pitches on two strings at a tick
    for start, pitch, velocity in ours:
        assert any(
            abs(start - at) < 0.002 and (pitch, velocity) == (note, force)
            for at, note, force in heard
        ), (start, pitch)


def test_texts_reach_mido_whole() -> None:
    tune = accomp.tune("| C | G7 |", key="C", title="Pörch ♭ Light")
    assert accomp.arrange(tune).perform().to_mido().tracks[0].name == "Pörch ♭ Light"


def test_pretty_midi_has_the_seconds(piece: accomp.Piece) -> None:
    performance = piece.perform()
    other = performance.to_pretty_midi()
    assert isinstance(other, pretty_midi.PrettyMIDI)
    banjos = [one for one in other.instruments if one.name == "Tenor banjo"]
    assert {one.program for one in banjos} == {105}
    starts = sorted(note.start for one in banjos for note in one.notes)
    ours = [start for start, _, _ in _sounding(performance)]
    assert starts[0] == pytest.approx(ours[0], abs=0.002)
    assert starts[-1] == pytest.approx(ours[-1], abs=0.002)
    assert other.get_end_time() >= starts[-1]
    assert [(one.numerator, one.denominator) for one in other.time_signature_changes] == [(4, 4)]


@pytest.mark.many(1)
@pytest.mark.parametrize("name", ["harbour-street-parade", "wide-water", "lanterns-on-the-quay"])
def test_a_tune_goes_to_music21_and_comes_back(name: str) -> None:
    tune = accomp.read_tune(EXAMPLES / f"{name}.toml")
    score = accomp.arrange(tune, choruses=1).score("notation").to_music21()
    assert isinstance(score, music21.stream.Score)
    assert score.metadata.title == tune.title
    back = accomp.Tune.from_music21(score)
    assert (back.title, back.key, back.meter) == (tune.title, tune.key, tune.meter)
    assert back.tempo == pytest.approx(tune.tempo)
    ours, theirs = _changes(tune), _changes(back)
    assert theirs[: len(ours)] == ours  # a closing bar may follow


def _changes(tune: accomp.Tune) -> list[tuple[Fraction, frozenset[int]]]:
    """When the chord changes and to what pitch classes, through the form."""
    found: list[tuple[Fraction, frozenset[int]]] = []
    start = Fraction(0)
    for name in tune.form:
        section = tune.sections[name]
        for bar in section.bars:
            for one in bar.chords:
                tones = frozenset(t.pc for t in one.chord.tones) if one.chord else frozenset()
                if not found or found[-1][1] != tones:
                    found.append((start + one.span.start, tones))
            start += section.meter.bar
    return found


def test_music21_has_the_pitches_of_the_shapes(piece: accomp.Piece) -> None:
    score = piece.score("notation").to_music21()
    written = [chord for chord in score.flatten().notes if not _is_symbol(chord)]
    strums = [
        tuple(sorted(strum.shape.pitches[i] for i in strum.strings))
        for bar in piece.version.on_paper.bars
        for strum in bar.strums
    ]
    assert [tuple(sorted(p.midi for p in chord.pitches)) for chord in written] == [
        tuple(sorted(set(pitches))) for pitches in strums
    ]


def _is_symbol(thing: Any) -> bool:
    return isinstance(thing, music21.harmony.ChordSymbol)


def _stream(*symbols: str) -> music21.stream.Part:
    part = music21.stream.Part()
    for at, symbol in enumerate(symbols):
        part.insert(4.0 * at, music21.harmony.ChordSymbol(symbol))
        part.insert(4.0 * at, music21.note.Rest(quarterLength=4))
    return part


def test_a_stream_of_somebodys_own_becomes_a_tune() -> None:
    part = _stream("C", "A7", "Dm7", "B-7")
    part.insert(0, music21.key.Key("F"))
    part.insert(0, music21.tempo.MetronomeMark(number=92))
    tune = accomp.Tune.from_music21(part)
    chords = [one.chord for bar in tune.sections["A"].bars for one in bar.chords]
    assert [str(chord) for chord in chords] == ["C", "A7", "Dm7", "Bb7"]
    assert (str(tune.key), tune.tempo, tune.title, tune.composer) == ("F", 92, "Untitled", "")
    assert tune.melody is None
    accomp.arrange(tune).to_midi()


def test_what_is_no_lead_sheet_is_refused() -> None:
    with pytest.raises(
        accomp.InputError, match="a music21 stream is needed here, and this is of type str"
    ):
        accomp.Tune.from_music21("score.musicxml")  # type: ignore[arg-type]
    bare = music21.stream.Part([music21.note.Note("C4", quarterLength=4)])
    with pytest.raises(accomp.InputError, match="it has no chord symbols") as caught:
        accomp.Tune.from_music21(bare)
    assert str(caught.value).startswith("the stream: ")


@pytest.mark.parametrize("library", ["music21", "pretty_midi", "mido"])
def test_a_library_that_is_missing_is_named_with_its_extra(
    library: str, piece: accomp.Piece, monkeypatch: pytest.MonkeyPatch
) -> None:
    performance, score = piece.perform(), piece.score()
    real = importlib.import_module

    def without(name: str, package: str | None = None) -> Any:
        if name.partition(".")[0] == library:
            raise ModuleNotFoundError(f"No module named {library!r}", name=library)
        return real(name, package)

    calls = {
        "music21": [score.to_music21, lambda: accomp.Tune.from_music21(None)],  # type: ignore[arg-type]
        "pretty_midi": [performance.to_pretty_midi],
        "mido": [performance.to_mido],
    }
    for call in calls[library]:
        monkeypatch.setattr(importlib, "import_module", without)
        with pytest.raises(accomp.NotInstalledError) as caught:
            call()
        assert f"{library} is not installed" in str(caught.value)
        assert "pip install 'accomp[bridges]'" in str(caught.value)
        monkeypatch.undo()


def test_a_library_that_is_broken_itself_is_not_called_missing(
    piece: accomp.Piece, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(name: str, package: str | None = None) -> Any:
        raise ModuleNotFoundError("No module named 'gone'", name="gone")

    performance = piece.perform()
    performance.to_midi()
    from accomp.notebook.bridges import to_mido

    monkeypatch.setattr(importlib, "import_module", broken)
    with pytest.raises(ModuleNotFoundError, match="gone"):
        to_mido(performance)


@pytest.mark.long
def test_samples_are_those_of_the_file(tmp_path: Path) -> None:
    """soundfile reads the same frames from the file that the main job would write."""
    tune = accomp.tune("| C | G7 |", key="C", tempo=240)
    piece = accomp.arrange(tune, style="two-beat", choruses=1, count_in=0)
    said: list[float] = []
    audio = piece.audio(format="wav", progress=lambda what, share: said.append(share))
    samples, rate = audio.to_numpy()
    path = audio.to_file(tmp_path / "a.wav")
    theirs, their_rate = soundfile.read(path, dtype="float32", always_2d=True)
    assert (samples.dtype, samples.shape[1], rate) == (np.float32, 2, their_rate)
    assert np.array_equal(samples, theirs)
    assert 0.1 < np.abs(samples).max() <= 1.0
    assert len(samples) / rate > piece.perform().end_s
    assert bytes(audio) == audio.data == path.read_bytes()
    assert max(said) == pytest.approx(1.0)
    made = accomp.make_tune(
        tune,
        accomp.Options(
            style="two-beat", choruses=1, count_in=0, only=("audio",), audio_format="wav"
        ),
        tmp_path / "job",
    )
    assert (tmp_path / "job" / made.files[0].path).read_bytes() == audio.data
    alone = piece.to_audio(tmp_path / "b.ogg", group="player")
    assert alone.read_bytes()[:4] == b"OggS"
    assert piece.to_audio()[:4] == b"fLaC"
