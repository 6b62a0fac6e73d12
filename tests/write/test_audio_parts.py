"""The parts between performance and file: desk, fonts, loading, reports. No sound is made here."""

from __future__ import annotations

import ctypes
import math
import signal as signals
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from audio_pieces import BANJO, BASS, band, clicks, performance, player

from accomp.errors import SoundError
from accomp.score.performance import Note, Role, TextMark, Track
from accomp.write import synth
from accomp.write.audio import balance, desk, encode, files, fonts, libsndfile, loudness, mix, stems
from accomp.write.audio.bus import READ, Measured
from accomp.write.audio.fonts import Fonts
from accomp.write.audio.spool import InMemory, Sound, Sum
from accomp.write.formats import AUDIO_FORMATS, BOXES, PAGES, PAPERS, AudioFormat, Paper
from accomp.write.soundfont import SoundFont

NOTE = Note(0.0, 1.0, 60, 90, 0)
DRUMS = Track("Drums", "band", 25, (9,), (replace(NOTE, channel=9),))


def font(*presets: tuple[int, int], name: str = "band") -> SoundFont:
    return SoundFont(Path(f"{name}.sf2"), name, frozenset(presets))


# The desk


def test_drums_are_narrowed_and_clicks_stand_in_one_place():
    kit = Track("Drums", "band", 0, (9,), ())
    widths = [desk.width(one) for one in (player([]), band([]), kit, clicks([]))]
    assert widths == [1.0, 1.0, 0.4, 0.0]
    sound = np.array([[1.0, 0.0], [0.5, -0.5]], np.float32)
    assert desk.narrowed(sound, 1.0) is sound
    assert np.allclose(desk.narrowed(sound, 0.4), [[0.7, 0.3], [0.2, -0.2]])
    assert np.allclose(desk.narrowed(sound, 0.0), [[0.5, 0.5], [0.0, 0.0]])


def plain_ways(aside_db: float) -> list[tuple[float, float, float]]:
    """What the desk tries one after another: player in, band up, band aside, all in tenths."""
    raised = [(0.0, n / 10, m / 10) for n in range(61) for m in range(9)]
    further = [(0.0, 6.0, 0.8 + n / 10) for n in range(23)]
    count = round((aside_db + 0.1) / 0.1) + 1
    return raised + further + [(n / 10, 6.0, 3.0) for n in range(count)]


@pytest.mark.parametrize("aside_db", [0.0, 5.0, 1.94, 1.96])
def test_what_is_least_is_tried_first(aside_db: float):
    found = list(desk._ways(aside_db))
    assert found == [pytest.approx(way) for way in plain_ways(aside_db)]


def power(level_db: float) -> float:
    return float(10 ** (level_db / 10))


@pytest.mark.parametrize("player_db", [-9.0, -5.5, -2.1, -1.9, -0.5, 0.0, 1.9, 2.1, 4.0, 5.5, 9.0])
@pytest.mark.parametrize("under_db", [-20.0, -3.0, 0.0, 4.0, 12.0, 30.0])
def test_the_first_way_that_brings_both_sides_together_is_taken(player_db: float, under_db: float):
    """The player 5 dB aside where their font has them aside at all; the band so far under."""
    sides = np.array([power(player_db / 2), power(-player_db / 2)])
    others = np.array([1.0, 0.9]) * power(-under_db)
    inward, out = desk.balance(sides, others)
    aside = abs(player_db)
    nearer = aside - 5.0 if aside > 2.0 else 0.0
    left = 1 if player_db >= 0 else -1
    for further_db, raised_db, aside_db in plain_ways(aside - nearer):
        in_db = left * (nearer + further_db) / 2
        out_db = left * aside_db / 2
        both = [
            power(player_db / 2 - in_db) + others[0] * power(raised_db - out_db),
            power(-player_db / 2 + in_db) + others[1] * power(raised_db + out_db),
        ]
        if abs(10 * math.log10(both[0] / both[1])) <= 0.2:
            break
    if player_db == 0:
        return  # nobody's side: the band has no other one
    assert 20 * np.log10(inward) == pytest.approx([-in_db, in_db], abs=1e-6)
    assert 20 * np.log10(out) == pytest.approx([raised_db - out_db, raised_db + out_db], abs=1e-6)


def test_who_plays_alone_is_brought_to_the_middle_and_nobody_is_left_as_it_is():
    nobody, aside = np.zeros(2), np.array([4.0, 1.0])
    assert desk.balance(nobody, aside) == ((1.0, 1.0), (1.0, 1.0))
    assert desk.balance(np.array([4.0, 0.0]), aside) == ((1.0, 1.0), (1.0, 1.0))
    inward, out = desk.balance(aside, nobody)
    assert inward == pytest.approx((math.sqrt(2.5 / 4), math.sqrt(2.5)))
    assert out == (1.0, 1.0)


@pytest.mark.parametrize(
    ("clicks_db", "tune_db", "gain_db"),
    [(0, 0, -1.5), (-10, 0, 8.5), (10, 0, -11.5), (-40, 0, 24.0), (40, 0, -24.0)],
)
def test_clicks_stand_a_little_under_the_tune(clicks_db: float, tune_db: float, gain_db: float):
    hops = [np.full(8, 100 * power(level - 20)) for level in (clicks_db, tune_db)]
    assert 20 * math.log10(desk._click_gain(*hops, 1_000)) == pytest.approx(gain_db)
    assert desk._click_gain(np.zeros(8), hops[1], 1_000) == 1.0
    assert desk._click_gain(hops[0], np.zeros(8), 1_000) == 1.0


def test_a_bus_s_sides_are_added_up_over_all_that_is_read(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(desk, "_READ", 7)
    for frames in (0, 1, 6, 7, 8, 20):
        sound = np.random.default_rng(frames).uniform(-1, 1, (frames, 2)).astype(np.float32)
        expected = np.square(sound.astype(float)).sum(axis=0)
        assert desk._sides(InMemory(sound)) == pytest.approx(expected)


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

    def rendered(midi: bytes, some: list[SoundFont]) -> Sound:
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
    starts = sorted({n.start_s for n in track.notes})
    assert starts == pytest.approx([0.0, 0.35, 0.7, 1.05])
    assert {round(n.end_s - n.start_s, 9) for n in track.notes} == {0.35}
    assert {n.velocity for n in track.notes} == {90}
    assert (piece.end_s, track.program) == (pytest.approx(1.4), BANJO)


# Stems


def piece_of(*tracks: Track) -> Any:
    return performance(*tracks, end_s=1.0)


class Kept(list):
    def append(self, block: Sound) -> None:
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

    def rendered(midi: bytes, some: object) -> Iterator[Sound]:
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


# The mix


def test_who_is_heard_in_which_group():
    tracks = (player([]), band([]), clicks([]))
    heard = {name: [group(track) for track in tracks] for name, group in mix.GROUPS.items()}
    assert heard == {
        "full": [True, True, True],
        "without-player": [False, True, True],
        "player": [True, False, False],
    }


def test_tracks_go_to_their_bus_levelled_bent_or_as_they_are(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(mix, "spooled", lambda how, stack: how)
    monkeypatch.setattr(mix, "strummed", lambda spool, starts, rate: (spool, starts, rate))
    monkeypatch.setattr(mix, "rounded", lambda *how: ("rounded", *how))
    monkeypatch.setattr(mix, "centred", lambda sound: ("centred", sound))
    tracks = (player([NOTE, replace(NOTE, start_s=0.5)]), band([]), clicks([]), DRUMS)
    with ExitStack() as stack:
        found = mix._buses(["a", "b", "c", "d"], piece_of(*tracks), stack)  # type: ignore[list-item]
    assert found == {
        Role.PLAYER: {0: ("a", (0.0, 0.5), 44_100)},
        Role.BAND: {1: "b", 3: ("centred", ("rounded", "d", 6.0))},
        Role.CLICK: {2: ("rounded", "c")},
    }


def level(frames: int, value: float) -> InMemory:
    return InMemory(np.full((frames, 2), value, np.float32))


def test_groups_are_summed_from_all_that_is_heard_in_them(monkeypatch: pytest.MonkeyPatch):
    """The room makes sounds longer; all groups end together."""

    def longer(source: Any, more: int) -> InMemory:
        return InMemory(source.read(0, source.frames + more))

    monkeypatch.setattr(mix, "spooled", lambda how, stack: how)
    monkeypatch.setattr(mix, "convolved", longer)
    monkeypatch.setattr(mix, "bus_response", lambda rate, room: 3 if room else 1)
    tracks = (player([]), band([]), band([]), clicks([]))
    buses = {
        Role.PLAYER: {0: level(5, 1.0)},
        Role.BAND: {1: level(9, 2.0), 2: level(2, 4.0)},
        Role.CLICK: {3: level(1, 8.0)},
    }
    gains = {Role.PLAYER: (1.0, 0.5), Role.BAND: (2.0, 1.0), Role.CLICK: (1.0, 1.0)}
    found = mix._by_groups(buses, piece_of(*tracks), mix.GROUPS, desk.Desk(gains, -20.0))
    assert {heard: len(sources) for heard, sources in found.items()} == {
        frozenset({"full", "player"}): 1,
        frozenset({"full", "without-player"}): 3,
    }
    for frames, in_room, last in ((7, True, 12), (7, False, 10), (20, True, 23)):
        with ExitStack() as stack:
            made = mix._in_room(found, [*mix.GROUPS, "nobody"], frames, stack, room=in_room)
        assert {sound.frames for sound in made.values()} == {last}
        heard = {name: sound.read(0, last) for name, sound in made.items()}
        assert heard["full"][0].tolist() == [1 + 4 + 8 + 8, 0.5 + 2 + 4 + 8]
        assert heard["player"][:6, 1].tolist() == [0.5] * 5 + [0.0]
        assert heard["without-player"][:, 1].tolist() == [14, 6] + [2] * 7 + [0] * (last - 9)
        assert not heard["nobody"].any()


def test_the_desk_knows_about_how_loud_all_are_together():
    """Reckoned at half the rate; measured on what it sets up, at the whole. Clicks, which may go
    on after the tune, are a little softer than it by themselves."""
    rate = 16_000
    random = np.random.default_rng(2)
    wave = np.repeat(random.uniform(-0.3, 0.3, (12_000, 2)), 4, axis=0).astype(np.float32)
    buses = {
        Role.PLAYER: InMemory(wave[:32_000] * np.float32(0.5)),
        Role.BAND: InMemory(wave[16_000:] * np.float32(0.3)),
        Role.CLICK: InMemory(wave[:40_000, ::-1] * np.float32(2.0)),
    }
    made = desk.set_up(buses, rate)
    placed = {role: desk.Placed(source, made.gains[role]) for role, source in buses.items()}
    whole = loudness.loudness_lufs(Sum(list(placed.values())), rate)
    assert made.about_lufs == pytest.approx(whole, abs=0.7)
    tune = loudness.loudness_lufs(Sum([placed[Role.PLAYER], placed[Role.BAND]]), rate)
    click = loudness.loudness_lufs(placed[Role.CLICK], rate)
    assert tune - click == pytest.approx(1.5, abs=0.3)
    assert made.gains[Role.CLICK][0] == made.gains[Role.CLICK][1]
    alone = desk.set_up({Role.CLICK: buses[Role.CLICK]}, rate)
    assert alone.gains[Role.CLICK] == (1.0, 1.0)
    louder = loudness.loudness_lufs(buses[Role.CLICK], rate)
    assert alone.about_lufs == pytest.approx(louder, abs=0.7)


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
    full = Measured(sound, -16.0, peak_db, 0.5)
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
    assert Paper.A4.size_mm == (210.0, 297.0)
    assert Paper.LETTER.size_mm == pytest.approx((8.5 * 25.4, 11 * 25.4))
    assert [kind.lossy for kind in AudioFormat] == [False, False, True, True]


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

        def write(self, block: Sound) -> None:
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


# Finding the synthesiser


class Api:
    """What pyfluidsynth has, of some version."""

    def __init__(self, version: tuple[int, int, int]) -> None:
        self.version = version
        self.calls: list[Any] = []

    def fluid_version(self, *numbers: Any) -> None:
        for number, value in zip(numbers, self.version, strict=True):
            number.value = value

    def new_fluid_settings(self) -> str:
        return "settings"

    def new_fluid_synth(self, settings: str) -> str:
        self.calls.append(("new", settings))
        return "synth"

    def delete_fluid_synth(self, made: str) -> None:
        self.calls.append(("delete", made))

    def delete_fluid_settings(self, made: str) -> None:
        self.calls.append(("delete", made))

    def cfunc(self, name: str, *_: Any) -> Any:
        return lambda level, log, data: self.calls.append((name, level, log is not None, data))


def loaded(*apis: Any) -> Any:
    """What is loaded where the libraries found are these."""
    with pytest.MonkeyPatch.context() as patch:
        rows = [("place", str(n)) for n in range(len(apis))]
        patch.setattr(synth, "_candidates", lambda: iter(rows))

        def on(path: str) -> Any:
            found = apis[int(path)]
            if isinstance(found, Exception):
                raise found
            return found

        patch.setattr(synth, "_pyfluidsynth_on", on)
        return synth._loaded.__wrapped__()


def test_the_first_library_that_is_new_enough_is_taken_and_started_up():
    old, good, other = Api((2, 0, 9)), Api((2, 1, 0)), Api((3, 0, 0))
    found = loaded(OSError("broken"), old, good, other)
    assert (found.api, found.path, found.name) == (good, "2", "FluidSynth 2.1.0 (place)")
    assert old.calls == other.calls == []
    log = "fluid_set_log_function"
    # Panic, error and warning are kept, information and debugging left out.
    assert good.calls[:5] == [(log, n, n < 3, None) for n in range(5)]
    assert good.calls[5:] == [("new", "settings"), ("delete", "synth"), ("delete", "settings")]


def test_what_was_tried_is_said():
    with pytest.raises(SoundError) as caught:
        loaded(OSError("broken"), Api((1, 9, 9)), AttributeError("old"))
    assert str(caught.value) == (
        "No FluidSynth library was found, so no audio can be made. Tried: 0: broken; "
        f"1: version 1.9.9 is older than 2.1; 2: old. {synth.REMEDY}"
    )
    with pytest.raises(SoundError) as caught:
        loaded()
    assert str(caught.value) == (
        f"No FluidSynth library was found, so no audio can be made. {synth.REMEDY}"
    )


def test_the_last_twenty_messages_are_kept(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(synth, "_MESSAGES", type(synth._MESSAGES)(maxlen=20))
    for n in range(25):
        synth._keep(1, f"m{n}".encode(), None)
    assert synth.messages() == tuple(f"m{n}" for n in range(5, 25))
    synth._keep(1, None, None)
    synth._keep(1, b"\xff", None)
    assert synth.messages()[-2:] == ("", "�")


def test_libraries_are_looked_for_in_the_wheel_then_on_the_system(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    package = tmp_path / "pygame"
    for name in ("pygame_ce.libs/libfluidsynth-b.so.3", "pygame_ce.libs/libfluidsynth-a.so"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()
    spec = SimpleNamespace(origin=str(package / "__init__.py"))
    monkeypatch.setattr(synth.importlib.util, "find_spec", lambda name: spec)
    names = {"fluidsynth": "f.so", "libfluidsynth-3": "l.so"}
    monkeypatch.setattr(ctypes.util, "find_library", names.get)
    monkeypatch.setattr(synth.sys, "platform", "linux")
    found = [(source, Path(path).name) for source, path in synth._candidates()]
    assert found == [
        ("pygame-ce wheel", "libfluidsynth-a.so"), ("pygame-ce wheel", "libfluidsynth-b.so.3"),
        ("system library", "f.so"), ("system library", "l.so"),
    ]  # fmt: skip
    for nothing in (None, SimpleNamespace(origin=None)):
        monkeypatch.setattr(synth.importlib.util, "find_spec", lambda name, n=nothing: n)
        assert [Path(path).name for _, path in synth._candidates()] == ["f.so", "l.so"]
    monkeypatch.setattr(synth.sys, "platform", "darwin")
    monkeypatch.setattr(synth.Path, "exists", lambda path: str(path).startswith("/opt"))
    assert list(synth._candidates())[2:] == [
        ("system library", "/opt/homebrew/lib/libfluidsynth.dylib")
    ]


# Rendering and its check


@pytest.fixture
def played(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """A player of eight numbered blocks; each attempt is as far from what was asked as `apart`
    says, in its turn."""
    from accomp.write.audio import render

    seen: dict[str, Any] = {"apart": [], "compared": [], "players": 0}

    @contextmanager
    def one(midi: bytes, some: Any, rate: int) -> Iterator[int]:
        seen["players"] += 1
        yield seen["players"]

    def blocks(player: int, rate: int) -> Iterator[Sound]:
        for n in range(8):
            yield np.full((render.BLOCK, 2), 10 * player + n, np.float32)

    def compare(sound: Sound, *_: Any) -> tuple[float, Sound]:
        seen["compared"].append((len(sound), sound[0, 0], sound[-1, 0]))
        return seen["apart"].pop(0), np.full((4, 2), 0.1, np.float32)

    monkeypatch.setattr(render, "_Player", one)
    monkeypatch.setattr(render, "_blocks", blocks)
    monkeypatch.setattr(render, "compare", compare)
    monkeypatch.setattr(render, "ALLOWED", 0.5)
    monkeypatch.setattr(render, "read_opening", lambda *_: "opening")
    monkeypatch.setattr(render, "synth_name", lambda: "Synth 1")
    monkeypatch.setattr(render, "level_db", lambda sound: float(sound[0, 0]))
    return seen


@pytest.mark.parametrize(
    ("frames", "kept", "compared"),
    [
        ((40_000, 60_000), 1, (20_000, 12, 13)),
        ((0, 16_384), 0, (16_384, 10, 10)),
        ((16_383, 16_385), 0, (2, 10, 11)),
        ((32_768, 49_152), 1, (16_384, 12, 12)),
        ((32_767, 49_153), 0, (16_386, 11, 13)),
    ],
)
def test_what_comes_before_the_first_note_is_handed_on_at_once(
    frames: tuple[int, int],
    kept: int,
    compared: tuple[int, int, int],
    played: dict[str, Any],
    monkeypatch: pytest.MonkeyPatch,
):
    """Blocks of 16,384 frames; the one before the note's is looked at with it. A stem that is not
    as asked is rendered again, and nothing of it stays."""
    from accomp.write.audio import render

    monkeypatch.setattr(render, "opening_frames", lambda *_: frames)
    played["apart"] = [0.5]
    made = [int(block[0, 0]) for block in render.render_blocks(b"", [])]
    assert made == list(range(10, 18))
    assert played["compared"] == [compared]
    played.update(apart=[0.51, 0.0], players=0)
    made = [int(block[0, 0]) for block in render.render_blocks(b"", [])]
    assert made == [10 + n for n in range(kept)] + [20 + n for n in range(kept, 8)]


def test_after_three_attempts_a_stem_is_an_error(
    played: dict[str, Any], monkeypatch: pytest.MonkeyPatch
):
    from accomp.write.audio import render

    monkeypatch.setattr(render, "opening_frames", lambda *_: (40_000, 60_000))
    monkeypatch.setattr(render, "SECONDS", 2.0)
    played["apart"] = [0.9, 0.9, 0.75]
    with pytest.raises(SoundError) as caught:
        list(render.render_blocks(b"", []))
    assert str(caught.value) == (
        "Synth 1 played something else than the notes ask for, 3 times: in the first 2 seconds "
        "32.0 dB, where 0.1 dB were expected (0.75 apart, 0.50 is let pass). Make the same again, "
        f"with nothing else using FluidSynth in this process. If it stays so: {synth.REMEDY}"
    )
    assert played["players"] == 3
    monkeypatch.setattr(render, "read_opening", lambda *_: None)  # without a note nothing is asked
    assert len(list(render.render_blocks(b"", []))) == 8


def test_progress_is_in_seconds(played: dict[str, Any], monkeypatch: pytest.MonkeyPatch):
    from accomp.write.audio import render

    monkeypatch.setattr(render, "read_opening", lambda *_: None)
    seen: list[float] = []
    sound = render.render(b"", [], sample_rate=16_384, progress=seen.append)
    assert seen == [float(n) for n in range(1, 9)]
    assert sound.shape == (8 * 16_384, 2)
