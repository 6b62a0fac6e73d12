"""Sound files: their reports, their noise, the library that writes them; no sound is made."""

from __future__ import annotations

import math
import signal as signals
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from audio_pieces import BANJO, BASS, band, performance

from accomp.errors import SoundError
from accomp.score.performance import Note, TextMark, Track
from accomp.write.audio import encode, files, libsndfile, mix
from accomp.write.audio.bus import READ, MeasuredSound
from accomp.write.audio.fonts import Fonts
from accomp.write.audio.spool import InMemory, Samples
from accomp.write.formats import AUDIO_FORMATS, BOXES, LOSSY, PAGES, PAPER_MM, PAPERS
from accomp.write.soundfont import SoundFont

NOTE = Note(0.0, 1.0, 60, 90, 0)
DRUMS = Track("Drums", "band", 25, (9,), (replace(NOTE, channel=9),))


def font(*presets: tuple[int, int], name: str = "band") -> SoundFont:
    return SoundFont(Path(f"{name}.sf2"), name, frozenset(presets))


GM = font((0, BANJO), (0, BASS), (128, 0))


def piece_of(*tracks: Track) -> Any:
    return performance(*tracks, end_s=1.0)


# Files and their reports


@contextmanager
def finished(found: mix.Mix, seen: list[Any]) -> Iterator[None]:
    """`mixed` gives this; what it is asked is seen."""

    @contextmanager
    def mixed(*asked: Any, **more: Any) -> Iterator[mix.Mix]:
        seen.append((asked, more))
        if more["progress"] is not None:
            more["progress"](1.0)
        yield found

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(files, "mixed", mixed)
        patch.setattr(files, "choose_fonts", lambda *_: Fonts(GM, None, ("A notice.",)))
        patch.setattr(files, "synth_name", lambda: "Synth 1")
        yield


def quiet_mix(peak_db: float = -1.5) -> mix.Mix:
    wave = 0.1 * np.hanning(44_101)[:-1, None] * np.ones(2)
    sound = InMemory(wave.astype(np.float32))
    full = MeasuredSound(sound, -16.0, peak_db, 0.5)
    return mix.Mix({"full": sound, "player": sound, "without-player": sound}, full, -3.0, 0.05)


def test_a_report_says_what_is_in_the_file(tmp_path: Path):
    seen: list[Any] = []
    done: list[float] = []
    piece = replace(piece_of(band([NOTE])), markers=(TextMark(0.0, "A"), TextMark(0.25, "B")))
    with finished(quiet_mix(), seen):
        paths = {"full": tmp_path / "a.flac", "player": tmp_path / "b.flac"}
        reports = files.write_groups(
            piece, paths, tags={"player": {"key": "F"}}, progress=done.append
        )
    assert reports["full"] == files.AudioReport(
        1.0, -16.0, -1.5, -3.0, 0.5, "Synth 1", "band", ("A notice.",)
    )
    part = reports["player"]
    assert (part.loudness_lufs, part.true_peak_dbtp, part.gain_db) == (None, None, -3.0)
    level_db = 20 * math.log10(0.1) - 3.0
    assert part.limited_db == pytest.approx(level_db - 20 * math.log10(0.05), abs=0.01)
    assert done == pytest.approx([0.7, 0.85, 1.0])
    for name, key in (("a.flac", False), ("b.flac", True)):
        data = (tmp_path / name).read_bytes()
        assert (b"KEY=F" in data) == key
        assert b"TITLE=Test Piece" in data
        # What begins with the tune begins with the file; all else comes after its silence.
        assert b"CHAPTER001=00:00:00.000" in data
        assert b"CHAPTER002=00:00:00.650" in data
    ((asked, more),) = seen
    assert asked[1] == {name: mix.GROUPS[name] for name in paths}
    assert asked[3] == mix.Rendering(silence_s=0.4)
    assert more["ceiling"] == pytest.approx(10 ** (-1.1 / 20))


@pytest.mark.parametrize(
    ("kind", "room_db"), [("flac", 0.0), ("wav", 0.0), ("ogg", 0.5), ("mp3", 0.5)]
)
def test_what_coding_may_lift_has_room_for_it(kind: str, room_db: float, tmp_path: Path):
    seen: list[Any] = []
    with finished(quiet_mix(), seen):
        report = files.write_audio(piece_of(band([NOTE])), tmp_path / "a", format=kind)
    assert seen[0][1]["ceiling"] == pytest.approx(10 ** (-(1.1 + room_db) / 20))
    assert seen[0][1]["progress"] is None
    measured = kind in ("ogg", "mp3")  # from what comes out of the coding
    assert (report.loudness_lufs != -16.0) == measured
    assert report.limited_db == 0.5


def test_notices_of_a_file():
    heard, silent = piece_of(band([NOTE])), piece_of(band([]))

    usual = Fonts(GM, None, ("A.",))

    def notices(piece: Any, peak_db: float, some: Fonts = usual) -> list[str]:
        return list(files._notices(piece, some, "full", files._Heard(0.0, peak_db)))

    assert notices(heard, -1.0) == ["A."]
    assert notices(silent, -math.inf) == ["A.", "Nothing sounds: the audio file is silent."]
    lifted = (
        "The coding lifted the peaks of the full file to -0.9 dBTP; "
        "choose FLAC or WAV where that matters."
    )
    assert notices(heard, -0.9) == ["A.", lifted]
    assert len(notices(heard, -0.9, Fonts(font((0, 0))))) == 2  # the bass is missing
    assert files._finite(-math.inf) is None
    assert files._finite(-1.5) == -1.5


def test_an_unknown_format_says_which_there_are(tmp_path: Path):
    with pytest.raises(SoundError) as caught:
        files.write_audio(piece_of(band([NOTE])), tmp_path / "a.aac", format="aac")
    assert str(caught.value) == (
        "'aac' is no audio format here. Choose one of: flac, wav, ogg, mp3."
    )


def test_what_can_be_asked_for():
    """Sizes of paper: ISO 216 and ANSI/ASME Y14.1."""
    assert (AUDIO_FORMATS, BOXES) == (("flac", "wav", "ogg", "mp3"), ("top", "changes", "none"))
    assert (PAGES, PAPERS) == (("chart", "part", "lesson"), ("a4", "letter"))
    assert PAPER_MM["a4"] == (210.0, 297.0)
    assert PAPER_MM["letter"] == pytest.approx((8.5 * 25.4, 11 * 25.4))
    assert [kind in LOSSY for kind in AUDIO_FORMATS] == [False, False, True, True]


# Noise and the library that writes files


def test_noise_is_of_one_step_and_goes_on_over_blocks(monkeypatch: pytest.MonkeyPatch):
    """Two draws a sample, the second taken from the first, block by block; drawn once for whole
    blocks at the beginning of a file."""
    monkeypatch.setattr(encode, "READ", 5)
    monkeypatch.setattr(encode, "_DRAWN_MOST", 2)
    monkeypatch.setattr(encode, "_DRAWN", {})
    for lengths in ((5, 5, 5, 3, 5), (3, 5), (5, 4), (5, 5, 5, 5)):
        random = np.random.default_rng(16)
        sound = [np.zeros((length, 2), np.float32) for length in lengths]
        for block, found in zip(sound, encode.dithered(sound), strict=True):
            noise = random.random(block.shape, np.float32) - random.random(block.shape, np.float32)
            assert np.array_equal(found, np.rint(noise))
        assert set(encode._DRAWN) <= {0, 1}
    assert set(encode._DRAWN) == {0, 1}
    loud = np.array([[2.0, -2.0], [0.5, -0.25]], np.float32)
    (steps,) = encode.dithered([loud])
    assert steps[0].tolist() == [32_767, -32_768]
    assert np.abs(steps[1] - [16_384, -8_192]).max() <= 1
    assert READ == 65_536


def test_files_are_written_some_frames_at_a_time(monkeypatch: pytest.MonkeyPatch):
    made: list[Any] = []

    class File:
        frames = 0

        def __init__(self, *how: Any, **more: Any) -> None:
            made.append(("opened", how[1:], more))

        def write(self, block: Samples) -> None:
            self.frames += len(block)
            made.append(block.shape)

        def close(self) -> None:
            made.append("closed")

    import soundfile

    monkeypatch.setattr(soundfile, "SoundFile", File)
    blocks = [np.zeros((length, 2), np.float32) for length in (16_384, 16_385, 0, 3)]
    libsndfile.sound_file(blocks, ("WAV", "PCM_16"), rate_hz=8_000, bits=1)
    opened = ("opened", ("w", 8_000, 2, "PCM_16"), {"format": "WAV", "bits": 1})
    assert made == [opened, (16_384, 2), (16_384, 2), (1, 2), (3, 2), "closed"]
    made.clear()
    libsndfile.sound_file([], ("WAV", "PCM_16"), rate_hz=8_000, channels=1)
    assert made[1:] == [(1, 1), "closed"]


def test_the_first_signal_is_answered_afterwards_and_handlers_are_put_back():
    told: list[int] = []
    before = signals.signal(signals.SIGTERM, lambda number, frame: told.append(number))
    ours = signals.getsignal(signals.SIGTERM)
    try:
        with libsndfile.undisturbed():
            signals.raise_signal(signals.SIGTERM)
            assert told == []
        assert told == [signals.SIGTERM]
        assert signals.getsignal(signals.SIGTERM) is ours
        with libsndfile.undisturbed():
            pass
        assert told == [signals.SIGTERM]
    finally:
        signals.signal(signals.SIGTERM, before)
