"""Which font plays whom, and how stems are filled; no sound is made here."""

from __future__ import annotations

import math
import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from audio_pieces import BANJO, BASS, band, clicks, performance, player

from accomp.errors import SoundError
from accomp.score.performance import Note, Track
from accomp.write.audio import balance, fonts, stems
from accomp.write.audio.fonts import Fonts
from accomp.write.audio.spool import Samples
from accomp.write.soundfont import SoundFont

NOTE = Note(0.0, 1.0, 60, 90, 0)
DRUMS = Track("Drums", "band", 25, (9,), (replace(NOTE, channel=9),))


def font(*presets: tuple[int, int], name: str = "band") -> SoundFont:
    return SoundFont(Path(f"{name}.sf2"), name, frozenset(presets))


# Fonts


VOICE = font((0, BANJO), (1, BANJO), name="voice")
GM = font((0, BANJO), (0, BASS), (128, 0))


@pytest.mark.parametrize(
    ("track", "voice", "heard"),
    [
        (player([NOTE]), VOICE, ("band", "voice")),
        (player([NOTE]), None, ("band",)),
        (player([NOTE]), font((1, BANJO), (0, 0), name="voice"), ("band",)),  # no such instrument
        (band([NOTE]), font((0, BASS), name="voice"), ("band",)),
        (DRUMS, VOICE, ("band",)),
    ],
)
def test_the_voice_plays_the_player_alone(
    track: Track, voice: SoundFont | None, heard: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
):
    both = Fonts(GM, voice)
    assert tuple(one.name for one in both.of(track)) == heard
    assert both.voices(track) == (len(heard) == 2)
    monkeypatch.setattr(stems, "voice_gain_db", lambda *asked: (asked, 3.5)[1])
    assert stems.stem_gain_db(track, both) == (3.5 if len(heard) == 2 else 0.0)


def test_the_names_of_fonts():
    assert Fonts(GM).name == "band"
    assert Fonts(GM, VOICE).name == "voice (player), band (band)"


def test_a_kit_that_a_font_lacks_is_its_first_one():
    assert Fonts(GM).program(DRUMS) == 0
    assert Fonts(font((128, 25))).program(DRUMS) == 25
    assert Fonts(font((0, 25))).program(DRUMS) == 0
    assert Fonts(GM).program(band([NOTE])) == BASS
    assert Fonts(GM).program(replace(DRUMS, channels=(8, 9))) == 25


def test_channels_that_ask_for_a_bank_nobody_has():
    rows = [(0, 0), (1, 1), (2, 2), (3, 1), (9, 3)]
    track = player([replace(NOTE, channel=channel, bank=bank) for channel, bank in rows])
    assert Fonts(GM).plain_channels(track) == {1, 2, 3}
    assert Fonts(GM, VOICE).plain_channels(track) == {2}
    assert Fonts(font((1, BANJO), (2, BANJO))).plain_channels(track) == frozenset()


@pytest.mark.parametrize(
    ("track", "said"),
    [
        (player([NOTE]), ""),
        (band([NOTE]), ""),
        (DRUMS, "Drums: band has no drums; "),
        (replace(player([NOTE]), program=3),
         "Tenor banjo: band has no sound for program 3 (counted from 0); "),
        (replace(player([]), program=3), ""),
    ],
)  # fmt: skip
def test_a_sound_that_no_font_has_is_said(track: Track, said: str):
    rest = "the synthesiser puts another sound in its place, or none. Choose a General MIDI font."
    bare = Fonts(font((0, BANJO), (0, BASS), (1, 3)))
    assert bare.missing(track) == (said and said + rest)
    assert Fonts(font((128, 99))).missing(DRUMS) == ""


def test_what_is_said_of_fonts_that_cannot_be_used(monkeypatch: pytest.MonkeyPatch):
    def broken(*_: object) -> SoundFont:
        raise SoundError("it is broken.")

    monkeypatch.setattr(fonts, "band_soundfont", broken)
    monkeypatch.setattr(fonts, "default_soundfont", lambda: GM)
    monkeypatch.setattr(fonts, "read_soundfont", broken)
    made = fonts.choose_fonts(None, Path("v.sf2"))
    assert (made.band, made.voice) == (GM, None)
    assert made.notices == (
        "The General MIDI sounds are used for drums and bass: it is broken.",
        "The player is heard with band, not with their own voice: it is broken.",
    )
    with pytest.raises(SoundError, match=r"^it is broken\.$"):
        fonts.choose_fonts(Path("b.sf2"), None)
    monkeypatch.setattr(fonts, "read_soundfont", lambda path: font(name=path.stem))
    made = fonts.choose_fonts(Path("b.sf2"), Path("v.sf2"))
    assert (made.band.name, made.voice and made.voice.name, made.notices) == ("b", "v", ())


@pytest.mark.parametrize(
    ("ours", "theirs", "gain_db"),
    [(-20.0, -16.04, 4.0), (-20.0, -16.06, 3.9), (-40.0, -10.0, 18.0), (-10.0, -40.0, -18.0),
     (-math.inf, -10.0, 0.0), (-10.0, -math.inf, 0.0)],
)  # fmt: skip
def test_a_voice_gets_what_it_lacks_up_to_18_db(
    ours: float, theirs: float, gain_db: float, monkeypatch: pytest.MonkeyPatch
):
    played: list[tuple[bytes, SoundFont]] = []

    def rendered(midi: bytes, some: list[SoundFont]) -> Samples:
        played.append((midi, *some))
        return np.zeros((len(played), 2), np.float32)

    loud = {1: ours, 2: theirs}
    monkeypatch.setattr(balance, "render", rendered)
    monkeypatch.setattr(balance, "loudness_lufs", lambda source, rate: loud[source.frames])
    assert balance.voice_gain_db.__wrapped__(VOICE, GM, BANJO) == gain_db
    assert [one[1] for one in played] == [VOICE, GM]
    assert balance.voice_gain_db.__wrapped__(VOICE, font((1, BANJO)), BANJO) == 0.0


def test_a_voice_is_measured_by_four_strokes_low_and_high():
    piece = balance._strokes(BANJO)
    (track,) = piece.tracks
    assert [n.pitch for n in track.notes] == [48, 55, 64, 72, 55, 62, 67, 71] * 2
    assert [n.channel for n in track.notes] == [0, 1, 2, 3] * 4
    assert track.channels == (0, 1, 2, 3)
    starts = sorted({n.start_s for n in track.notes})
    assert starts == pytest.approx([0.0, 0.35, 0.7, 1.05])
    assert {round(n.end_s - n.start_s, 9) for n in track.notes} == {0.35}
    assert {n.velocity for n in track.notes} == {90}
    assert (piece.end_s, track.program) == (pytest.approx(1.4), BANJO)


# Stems


def piece_of(*tracks: Track) -> Any:
    return performance(*tracks, end_s=1.0)


class Kept(list):
    def append(self, block: Samples) -> None:
        super().append(block.copy())


def test_stems_are_filled_with_their_gain_and_say_how_far_they_are(
    monkeypatch: pytest.MonkeyPatch,
):
    sound = np.tile(np.array([0.2, 0.1], np.float32), (22_050, 1))
    monkeypatch.setattr(stems, "render_blocks", lambda midi, some: iter([sound, sound]))
    monkeypatch.setattr(stems, "track_midi", lambda *_: b"")
    monkeypatch.setattr(stems, "voice_gain_db", lambda *_: 20.0)
    spools = [Kept() for _ in range(4)]
    seen: list[float] = []
    piece = piece_of(player([NOTE]), band([NOTE]), clicks([NOTE]), band([]))
    both = Fonts(GM, VOICE)
    stems.render_stems_to(spools, piece, both, threads=1, progress=seen.append)  # type: ignore[arg-type]
    assert [len(spool) for spool in spools] == [2, 2, 2, 0]
    assert [spool[0][0].tolist() for spool in spools[:3]] == [
        pytest.approx([2.0, 1.0]), pytest.approx([0.2, 0.1]), pytest.approx([0.15, 0.15]),
    ]  # fmt: skip
    assert seen[-1] == 0.75  # the fourth has nothing to play


def test_progress_stays_at_one_and_an_empty_piece_has_some(monkeypatch: pytest.MonkeyPatch):
    long = np.zeros((90_000, 2), np.float32)
    monkeypatch.setattr(stems, "render_blocks", lambda midi, some: iter([long]))
    monkeypatch.setattr(stems, "track_midi", lambda *_: b"")
    seen: list[float] = []
    for piece in (piece_of(band([NOTE])), replace(piece_of(band([NOTE])), end_s=0.0)):
        stems.render_stems_to([Kept()], piece, Fonts(GM), progress=seen.append)  # type: ignore[list-item]
        assert seen[-1] == 1.0
    stems.render_stems_to([], piece_of(), Fonts(GM), progress=seen.append)


@pytest.mark.parametrize(
    ("threads", "tracks", "processors", "workers"),
    [
        (None, 3, 8, 3),
        (None, 3, 2, 2),
        (None, 3, None, 1),
        (5, 3, 2, 5),
        (None, 0, 8, 1),
        (0, 2, 8, 2),
    ],
)
def test_as_many_threads_as_tracks_and_processors(
    threads: int | None, tracks: int, processors: int | None, workers: int,
    monkeypatch: pytest.MonkeyPatch,
):  # fmt: skip
    asked: list[int] = []

    class Pool(stems.ThreadPoolExecutor):  # type: ignore[misc, name-defined]
        def __init__(self, count: int, thread_name_prefix: str) -> None:
            asked.append(count)
            super().__init__(count, thread_name_prefix)

    monkeypatch.setattr(stems, "ThreadPoolExecutor", Pool)
    monkeypatch.setattr(stems.os, "cpu_count", lambda: processors)
    piece = piece_of(*[band([]) for _ in range(tracks)])
    stems.render_stems_to([Kept() for _ in range(tracks)], piece, Fonts(GM), threads=threads)  # type: ignore[misc]
    assert asked == [workers]


def test_a_fault_in_one_stem_ends_the_others(monkeypatch: pytest.MonkeyPatch):
    began = threading.Event()
    made: list[int] = []

    def rendered(midi: bytes, some: object) -> Iterator[Samples]:
        if midi == b"bad":
            began.wait(5)
            raise SoundError("it is broken.")
        for n in range(2_000):
            made.append(n)
            began.set()
            threading.Event().wait(0.001)
            yield np.zeros((1, 2), np.float32)

    monkeypatch.setattr(stems, "render_blocks", rendered)
    monkeypatch.setattr(
        stems, "track_midi", lambda piece, track, some: b"bad" if track.name == "Bass" else b""
    )
    with pytest.raises(SoundError, match="it is broken"):
        stems.render_stems_to(
            [Kept(), Kept()], piece_of(player([NOTE]), band([NOTE])), Fonts(GM), threads=2
        )  # type: ignore[list-item]
    assert len(made) < 1_000
