"""The mix in figures, measured on the sound: place, clicks, loudness, soft tops, the high-pass."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
from audio_pieces import CLICK, band, clicks, performance, player, small_band
from scipy import signal

from accomp.score.performance import Note, Performance, Role, Track
from accomp.write.audio import GROUPS, Rendering
from accomp.write.audio.clip import clipped
from accomp.write.audio.limiter import CEILING
from accomp.write.audio.loudness import true_peak
from accomp.write.audio.mixer import balance, centred, narrowed, set_up
from accomp.write.audio.room import bus_response
from accomp.write.audio.spool import InMemory, Samples
from accomp.write.audio.strokes import CLIP_DB, STANDS_OUT_DB, onsets_s, strummed
from benchmarks.stems import render_stems

RATE = 44_100
Levels = npt.NDArray[np.float64]


def _sides_db(sound: Samples) -> float:
    left, right = np.square(sound.astype(float)).mean(axis=0)
    return float(10 * np.log10(left / right))


def _stems(piece: Performance) -> dict[str, Samples]:
    names = {track.name for track in piece.tracks}
    return render_stems(piece, {**GROUPS, **{name: _only(name) for name in names}})


def _only(name: str):
    return lambda track: track.name == name


@pytest.fixture(scope="module")
def piece() -> Performance:
    """Four bars with a player to the left and a kit that the font has at one side."""
    base = small_band(4)
    drums = [
        Note((4 + n) / 3, (4 + n) / 3 + 0.1, key, 90, 9) for n in range(16) for key in (36, 62)
    ]
    banjo = replace(base.tracks[0], level=70)
    return performance(
        banjo, *base.tracks[1:], Track("Drums", "band", 0, (9,), tuple(drums)),
        end_s=base.end_s, quarter_s=1 / 3,
    )  # fmt: skip


@pytest.fixture(scope="module")
def stems(piece: Performance) -> dict[str, Samples]:
    return _stems(piece)


@pytest.mark.slow
def test_the_whole_stands_in_the_middle(stems: dict[str, Samples]) -> None:
    assert abs(_sides_db(stems["full"])) < 1
    assert abs(_sides_db(stems["without-player"])) < 3.2  # far, to make up for a loud banjo


def test_the_player_stands_to_one_side(stems: dict[str, Samples]) -> None:
    assert 4 <= _sides_db(stems["player"]) <= 6.5  # the room answers unevenly


def test_clicks_stand_in_the_middle_and_the_kit_with_the_band(stems: dict[str, Samples]) -> None:
    assert abs(_sides_db(stems["Count-in"])) < 0.8  # the room answers unevenly
    assert abs(_sides_db(stems["Drums"]) - _sides_db(stems["without-player"])) < 0.8


@pytest.mark.slow
def test_a_mirrored_player_is_balanced_too(piece: Performance) -> None:
    mirrored = replace(piece, tracks=(replace(piece.tracks[0], pan=88), *piece.tracks[1:]))
    sounds = _stems(mirrored)
    assert _sides_db(sounds["player"]) < -3.5
    assert abs(_sides_db(sounds["full"])) < 1


@pytest.mark.slow
@pytest.mark.parametrize("velocity", [60, 110])
def test_clicks_are_a_little_softer_than_the_tune(velocity: int) -> None:
    import pyloudnorm

    base = small_band(4)
    count = [Note(n / 3, n / 3 + 0.1, CLICK, velocity, 9) for n in range(4)]
    made = performance(*base.tracks[:2], clicks(count), end_s=base.end_s, quarter_s=1 / 3)
    full = render_stems(made, GROUPS)["full"].astype(float)
    meter, start = pyloudnorm.Meter(RATE), round(4 / 3 * RATE)
    apart = meter.integrated_loudness(full[:start]) - meter.integrated_loudness(full[start:])
    assert -3 <= apart <= 0


def test_what_is_narrowed_keeps_its_middle() -> None:
    sound = np.random.default_rng(1).standard_normal((100, 2)).astype(np.float32)
    assert np.allclose(narrowed(sound, 0.4).mean(axis=1), sound.mean(axis=1), atol=1e-6)
    assert np.allclose(np.diff(narrowed(sound, 0.4)), 0.4 * np.diff(sound), atol=1e-6)
    assert narrowed(sound, 1.0) is sound


@pytest.mark.parametrize("room", [True, False])
def test_nothing_is_left_under_thirty_hertz(room: bool) -> None:
    response = bus_response(RATE, room=room).reshape(-1, 2 if room else 1)[:, 0]
    size = 1 << 17
    level_db = 20 * np.log10(np.abs(np.fft.rfft(response, size)) + 1e-12)
    at_hz = np.fft.rfftfreq(size, 1 / RATE)

    def at(hz: float) -> float:
        return float(level_db[np.argmin(np.abs(at_hz - hz))])

    assert at(30) == pytest.approx(-3, abs=1.0)
    assert at(15) < -20
    assert at(8) < -40
    assert abs(at(60)) < 1.0  # the lowest notes of a bass stay (E1: 41 Hz, its octave 82)


def _tone(hz: float, level: float, seconds: float = 0.5) -> Samples:
    time_s = np.arange(round(seconds * RATE)) / RATE
    wave = level * np.sin(2 * np.pi * hz * time_s) * np.hanning(len(time_s))
    return np.stack([wave, wave / 2], axis=1).astype(np.float32)


def test_a_bent_top_stays_under_its_ceiling_and_the_rest_as_it_was() -> None:
    tone = _tone(3_000, 1.6)
    made = np.concatenate(list(clipped(InMemory(tone), 1.0)))
    assert made.shape == tone.shape
    assert true_peak(InMemory(made)) < 1.03
    quiet = np.abs(tone).max(axis=1) < 0.5
    edge = quiet & (np.convolve(~quiet, np.ones(129), "same") == 0)
    assert np.array_equal(made[edge], tone[edge])
    assert np.array_equal(np.concatenate(list(clipped(InMemory(tone), 10.0))), tone)


def test_bending_makes_no_false_tones() -> None:
    # A tone of 5 kHz bends into 15 kHz; 25 and 35 kHz would come back as 19.1 and 9.1 kHz.
    made = np.concatenate(list(clipped(InMemory(_tone(5_000, 1.5)), 1.0)))[:, 0]
    level_db = 20 * np.log10(np.abs(np.fft.rfft(made)) + 1e-9)
    level_db -= level_db.max()
    at_hz = np.fft.rfftfreq(len(made), 1 / RATE)
    for false_hz in (19_100, 9_100):
        assert level_db[np.abs(at_hz - false_hz) < 100].max() < -65
    plain = np.clip(_tone(5_000, 1.5)[:, 0], -1, 1)  # what a clip without oversampling does
    plain_db = 20 * np.log10(np.abs(np.fft.rfft(plain)) + 1e-9)
    assert plain_db[np.abs(at_hz - 19_100) < 100].max() - plain_db.max() > -60


def test_it_does_not_matter_where_blocks_end(monkeypatch: pytest.MonkeyPatch) -> None:
    tone = _tone(900, 1.4)
    whole = np.concatenate(list(clipped(InMemory(tone), 1.0)))
    monkeypatch.setattr("accomp.write.audio.clip._READ", 1_000)
    assert np.array_equal(np.concatenate(list(clipped(InMemory(tone), 1.0))), whole)


def _strokes(levels: Levels) -> tuple[Samples, list[float]]:
    """Decaying tones, four a second."""
    step = RATE // 4
    time_s = np.arange(step) / RATE
    one = np.sin(2 * np.pi * 700 * time_s) * np.exp(-9 * time_s)
    wave = np.concatenate([level * one for level in levels])
    return np.stack([wave, wave], axis=1).astype(np.float32), [n / 4 for n in range(len(levels))]


def test_strokes_that_stand_out_come_nearer_and_the_others_stay() -> None:
    levels = np.full(40, 0.1)
    levels[[11, 29]] = 0.1 * 10 ** (12 / 20)  # 12 dB over the median, as in a ballad
    sound, starts_s = _strokes(levels)
    made = np.concatenate(list(strummed(InMemory(sound), starts_s, RATE)))
    tops = np.abs(made[:, 0]).reshape(40, -1).max(axis=1)
    usual = np.median(tops)
    over_db = 20 * np.log10(tops[[11, 29]] / usual)
    assert over_db.min() >= STANDS_OUT_DB - CLIP_DB
    assert over_db.max() < 8
    others = [n for n in range(40) if n not in (10, 11, 28, 29)]
    assert np.allclose(
        tops[others], np.abs(sound[:, 0]).reshape(40, -1).max(axis=1)[others], rtol=0.12
    )
    step = np.abs(np.diff(made[:, 0])).max()
    assert step < 1.2 * np.abs(np.diff(sound[:, 0])).max()  # no click where a gain changes


@pytest.mark.slow
def test_an_even_part_is_only_bent_at_its_tops() -> None:
    random = np.random.default_rng(4)
    levels = 0.2 * 10 ** (random.uniform(-3, 3, 60) / 20)
    sound, starts_s = _strokes(levels)
    made = np.concatenate(list(strummed(InMemory(sound), starts_s, RATE)))
    # The spectrum by thirds of an octave changes by less than a decibel where there is any.
    before, after = (
        10 * np.log10(signal.welch(one[:, 0].astype(float), RATE, nperseg=4096)[1] + 1e-15)
        for one in (sound, made)
    )
    heard = before > before.max() - 30
    assert np.abs(after - before)[heard].max() < 1.5
    gap_db = 20 * np.log10(np.abs(sound).max() / np.abs(made).max())
    assert 2 < gap_db <= CLIP_DB + 0.1


def test_strings_of_one_stroke_are_one_stroke() -> None:
    notes = [Note(at, at + 1, 60, 90, 0) for at in (0.0, 0.03, 0.06, 0.5, 0.52, 1.0)]
    assert onsets_s(notes) == (0.0, 0.5, 1.0)
    assert onsets_s([]) == ()


def test_who_plays_alone_stands_in_the_middle() -> None:
    alone = performance(player([Note(0.0, 1.0, 60, 90, 0)], pan=42), end_s=1.0)
    full = render_stems(alone, GROUPS, Rendering())["full"]
    assert np.isfinite(full).all()
    assert np.abs(full).max() > 0
    assert abs(_sides_db(full)) < 0.8  # a style that has no band is not heard at one side
    lone = performance(band([Note(0.0, 1.0, 40, 90, 10)]), end_s=1.0)
    assert abs(_sides_db(render_stems(lone, GROUPS)["full"])) < 0.8  # the room answers unevenly


def test_the_gain_never_leaves_more_to_the_limiter_than_it_may_take(
    stems: dict[str, Samples],
) -> None:
    assert true_peak(InMemory(stems["full"])) <= CEILING * 10 ** (4.501 / 20)


@pytest.mark.parametrize("side", [0, 1])
@pytest.mark.parametrize("left", [0.72, 0.76, 0.8])  # the room moves a player by 0.7 dB
@pytest.mark.parametrize("share", [0.1, 0.4, 0.6, 0.7, 0.9, 0.98])
def test_whatever_the_player_s_share_both_sides_are_alike(
    share: float, left: float, side: int
) -> None:
    player_sides = np.array([left, 1 - left])[:: 1 - 2 * side] * share
    inward, sides = balance(player_sides, np.array([0.5, 0.5]) * (1 - share))
    player = player_sides * np.square(inward)
    total = player + 0.5 * (1 - share) * np.square(sides)
    assert abs(10 * np.log10(total[0] / total[1])) <= 0.21
    aside_db = abs(20 * np.log10(sides[0] / sides[1]))
    assert aside_db <= (3.01 if share > 0.5 else 0.81)  # the band stays near the middle
    assert max(sides) <= 10 ** (7.51 / 20)
    # The player is still heard at their side, unless next to nothing else is there.
    if share <= 0.7:
        assert abs(10 * np.log10(player[0] / player[1])) == pytest.approx(5)


def test_the_mixer_goes_by_all_of_the_sound() -> None:
    # The left side comes later than the first block that is read.
    noise = np.random.default_rng(1).uniform(-0.5, 0.5, (200_000, 2)).astype(np.float32)
    late = noise * np.array([2.0, 0.7], np.float32)
    late[:140_000, 0] = 0
    kit = centred(InMemory(late)).read(0, len(late))
    assert abs(_sides_db(kit)) < 0.001
    one_side = InMemory(late * np.array([1, 0], np.float32))
    assert centred(one_side) is one_side

    made = set_up({Role.PLAYER: InMemory(late), Role.BAND: InMemory(noise)}, RATE)
    energies = [np.square(sound.astype(float)).sum(axis=0) for sound in (late, noise)]
    found = [made.gains[role] for role in (Role.PLAYER, Role.BAND)]
    assert found == [pytest.approx(gains) for gains in balance(*energies)]
