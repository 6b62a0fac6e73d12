"""The mixer and the mix: who stands where, how loud, and who is heard together."""

from __future__ import annotations

import math
from contextlib import ExitStack
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from audio_pieces import band, clicks, performance, player

from accomp.score.performance import Note, Role, Track
from accomp.write.audio import loudness, mix, mixer
from accomp.write.audio.spool import InMemory, SummedSource

NOTE = Note(0.0, 1.0, 60, 90, 0)
DRUMS = Track("Drums", "band", 25, (9,), (replace(NOTE, channel=9),))


def piece_of(*tracks: Track) -> Any:
    return performance(*tracks, end_s=1.0)


# The mixer


def test_drums_are_narrowed_and_clicks_stand_in_one_place():
    kit = Track("Drums", "band", 0, (9,), ())
    widths = [mixer.width(one) for one in (player([]), band([]), kit, clicks([]))]
    assert widths == [1.0, 1.0, 0.4, 0.0]
    sound = np.array([[1.0, 0.0], [0.5, -0.5]], np.float32)
    assert mixer.narrowed(sound, 1.0) is sound
    assert np.allclose(mixer.narrowed(sound, 0.4), [[0.7, 0.3], [0.2, -0.2]])
    assert np.allclose(mixer.narrowed(sound, 0.0), [[0.5, 0.5], [0.0, 0.0]])


def plain_ways(aside_db: float) -> list[tuple[float, float, float]]:
    """What the desk tries one after another: player in, band up, band aside, all in tenths."""
    raised = [(0.0, n / 10, m / 10) for n in range(61) for m in range(9)]
    further = [(0.0, 6.0, 0.8 + n / 10) for n in range(23)]
    count = round((aside_db + 0.1) / 0.1) + 1
    return raised + further + [(n / 10, 6.0, 3.0) for n in range(count)]


@pytest.mark.parametrize("aside_db", [0.0, 5.0, 1.94, 1.96])
def test_what_is_least_is_tried_first(aside_db: float):
    found = list(mixer._ways(aside_db))
    assert found == [pytest.approx(way) for way in plain_ways(aside_db)]


def power(level_db: float) -> float:
    return float(10 ** (level_db / 10))


@pytest.mark.slow
@pytest.mark.parametrize("player_db", [-9.0, -5.5, -2.1, -1.9, -0.5, 0.0, 1.9, 2.1, 4.0, 5.5, 9.0])
@pytest.mark.parametrize("under_db", [-20.0, -3.0, 0.0, 4.0, 12.0, 30.0])
def test_the_first_way_that_brings_both_sides_together_is_taken(player_db: float, under_db: float):
    """The player 5 dB aside where their font has them aside at all; the band so far under."""
    sides = np.array([power(player_db / 2), power(-player_db / 2)])
    others = np.array([1.0, 0.9]) * power(-under_db)
    inward, out = mixer.balance(sides, others)
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
    assert mixer.balance(nobody, aside) == ((1.0, 1.0), (1.0, 1.0))
    assert mixer.balance(np.array([4.0, 0.0]), aside) == ((1.0, 1.0), (1.0, 1.0))
    inward, out = mixer.balance(aside, nobody)
    assert inward == pytest.approx((math.sqrt(2.5 / 4), math.sqrt(2.5)))
    assert out == (1.0, 1.0)


@pytest.mark.parametrize(
    ("clicks_db", "tune_db", "gain_db"),
    [(0, 0, -1.5), (-10, 0, 8.5), (10, 0, -11.5), (-40, 0, 24.0), (40, 0, -24.0)],
)
def test_clicks_stand_a_little_under_the_tune(clicks_db: float, tune_db: float, gain_db: float):
    hops = [np.full(8, 100 * power(level - 20)) for level in (clicks_db, tune_db)]
    assert 20 * math.log10(mixer._click_gain(*hops, 1_000)) == pytest.approx(gain_db)
    assert mixer._click_gain(np.zeros(8), hops[1], 1_000) == 1.0
    assert mixer._click_gain(hops[0], np.zeros(8), 1_000) == 1.0


def test_a_bus_s_sides_are_added_up_over_all_that_is_read(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(mixer, "_READ", 7)
    for frames in (0, 1, 6, 7, 8, 20):
        sound = np.random.default_rng(frames).uniform(-1, 1, (frames, 2)).astype(np.float32)
        expected = np.square(sound.astype(float)).sum(axis=0)
        assert mixer._sides(InMemory(sound)) == pytest.approx(expected)


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
    monkeypatch.setattr(mix, "rounded_tops", lambda *how: ("rounded", *how))
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
    found = mix._by_groups(buses, piece_of(*tracks), mix.GROUPS, mixer.BusGains(gains, -20.0))
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


def test_the_mixer_knows_about_how_loud_all_are_together():
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
    made = mixer.set_up(buses, rate)
    placed = {role: mixer.PannedSource(source, made.gains[role]) for role, source in buses.items()}
    whole = loudness.loudness_lufs(SummedSource(list(placed.values())), rate)
    assert made.about_lufs == pytest.approx(whole, abs=0.7)
    tune = loudness.loudness_lufs(SummedSource([placed[Role.PLAYER], placed[Role.BAND]]), rate)
    click = loudness.loudness_lufs(placed[Role.CLICK], rate)
    assert tune - click == pytest.approx(1.5, abs=0.3)
    assert made.gains[Role.CLICK][0] == made.gains[Role.CLICK][1]
    alone = mixer.set_up({Role.CLICK: buses[Role.CLICK]}, rate)
    assert alone.gains[Role.CLICK] == (1.0, 1.0)
    louder = loudness.loudness_lufs(buses[Role.CLICK], rate)
    assert alone.about_lufs == pytest.approx(louder, abs=0.7)
