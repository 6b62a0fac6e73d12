"""Limiter, soft clip, strokes and the one gain, against plain reckoning."""

from __future__ import annotations

import itertools
import math
import statistics
from collections.abc import Iterator
from contextlib import ExitStack

import numpy as np
import numpy.typing as npt
import pytest

from accomp.score.performance import Note
from accomp.write.audio import bus, clip, limiter, render, strokes
from accomp.write.audio.spool import InMemory, Samples

Array = npt.NDArray[np.float64]


def noise(frames: int, seed: int = 1, level: float = 0.1) -> Samples:
    random = np.random.default_rng(seed)
    return (level * random.standard_normal((frames, 2))).astype(np.float32)


def part(sound: Samples, start: int, count: int) -> Samples:
    """Frames of a sound that is silent outside itself."""
    wide = np.concatenate([np.zeros((50, 2)), sound, np.zeros((50, 2))])
    found: Samples = wide[50 + start : 50 + start + count].astype(np.float32)
    return found


# The limiter


@pytest.mark.parametrize("stretch", range(1, 12))
def test_moving_minimum_and_mean_are_those_of_each_stretch(stretch: int):
    values = np.random.default_rng(stretch).uniform(0, 1, 30)
    parts = [values[n : n + stretch] for n in range(30 - stretch + 1)]
    assert limiter._moving_minimum(values, stretch).tolist() == [one.min() for one in parts]
    assert limiter._running_mean(values, stretch) == pytest.approx([one.mean() for one in parts])


def test_the_gain_recovers_after_each_need():
    """The recursion itself: in 1764 frames it comes back to 1/e of what was taken."""
    over, need = np.array([3, 5, 6, 40]), np.array([0.6, 0.9, 0.5, 0.99])
    found = limiter._recovering(60, over, need)
    taken = 0.0
    needs = dict(zip(over.tolist(), need.tolist(), strict=True))
    for n in range(60):
        taken = max(taken * math.exp(-1 / 1_764), 1 - needs.get(n, 1.0))
        assert found[n] == pytest.approx(1 - taken)


def test_the_gain_glides_down_in_a_triangle_over_96_frames():
    gain = np.ones(400)
    gain[200] = 0.5
    curve = limiter._glide(gain)
    assert len(curve) == 400 - 2 * 96
    held = [min(gain[n : n + 97]) for n in range(400 - 96)]
    once = [sum(held[n : n + 49]) / 49 for n in range(len(held) - 48)]
    twice = [sum(once[n : n + 49]) / 49 for n in range(len(once) - 48)]
    assert curve == pytest.approx(twice)
    assert curve[200 - 96] == pytest.approx(0.5)  # and there it is all the way down


# The soft clip


def sinc_at(away: Array) -> Array:
    """A sinc in a window of 10.5 frames to each side."""
    inside = np.abs(away) <= 10.5
    return np.where(inside, np.sinc(away) * np.cos(np.pi * away / 21) ** 2, 0.0)


def plain_bent(sound: Array, ceiling: float) -> Array:
    """Four values a frame, bent above three quarters of the ceiling, filtered on the way back."""
    knee = 0.75 * ceiling
    taps = np.arange(-10, 11)
    rows = [sinc_at(taps - n / 4) for n in range(4)]
    backs = np.array([sinc_at(taps + n / 4) for n in range(4)])
    backs /= backs.sum()
    padded = np.concatenate([np.zeros(20), sound, np.zeros(20)])
    answer = sound.copy()
    taken = np.zeros((4, len(padded)))
    for phase, at in itertools.product(range(4), range(10, len(padded) - 10)):
        wave = float(rows[phase] / rows[phase].sum() @ padded[at - 10 : at + 11])
        over = max(abs(wave) - knee, 0.0)
        room_left = ceiling - knee
        taken[phase, at] = math.copysign(over - room_left * math.tanh(over / room_left), wave)
    for at in range(len(sound)):
        for phase in range(4):
            answer[at] -= backs[phase] @ taken[phase, at + 10 : at + 31]
    return answer


@pytest.mark.parametrize("frames", [1, 64, 65])
def test_what_is_bent_is_bent_at_four_times_the_rate(frames: int):
    sound = noise(frames, frames, 0.7)
    found = np.concatenate(list(clip.clipped(InMemory(sound), 0.8)))
    for side in (0, 1):
        expected = plain_bent(sound[:, side].astype(float), 0.8)
        assert found[:, side] == pytest.approx(expected, abs=2e-6)
    assert frames == 1 or not np.array_equal(found, sound)
    assert list(clip.clipped(InMemory(sound[:0]), 0.8)) == []


# Strokes


def test_strokes_begin_where_no_string_has_sounded_just_before():
    def of(*starts: float) -> tuple[float, ...]:
        return strokes.onsets_s([Note(at, at + 1, 60, 90, 0) for at in starts])

    assert of(0.0, 0.0625) == (0.0,)
    assert of(0.0, 0.07) == (0.0, 0.07)  # 70 ms apart are two
    assert of(0.07, 0.0) == (0.0, 0.07)
    assert of(0.0, 0.06, 0.12, 0.18, 0.25) == (0.0, 0.25)  # slow, but never 70 ms of nothing
    assert of(5.0) == (5.0,)
    assert of() == ()


@pytest.mark.parametrize("count", range(1, 8))
def test_the_median_is_the_middle_one(count: int):
    values = np.random.default_rng(count).uniform(0, 1, count)
    assert strokes._median(values) == statistics.median(values.tolist())


@pytest.mark.parametrize(
    ("over_db", "gain_db"), [(-30, 0), (0, 0), (4, 0), (5, -0.65), (6, -1.3), (14, -6.5)]
)
def test_a_stroke_keeps_a_third_of_what_it_has_more_than_4_db_over_the_median(
    over_db: float, gain_db: float
):
    found = strokes._gains(np.array([0.2 * 10 ** (over_db / 20), 0.2]), 0.2)
    assert 20 * np.log10(found) == pytest.approx([gain_db, 0.0], abs=1e-9)


def test_the_highest_of_each_hop_is_found_across_reads(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(strokes, "_HOP", 4)
    monkeypatch.setattr(strokes, "_READ_HOPS", 3)
    for frames in (0, 1, 4, 5, 11, 12, 13, 24, 30):
        sound = noise(frames)
        found = strokes._tops(InMemory(sound))
        expected = [np.abs(sound[at : at + 4]).max() for at in range(0, frames, 4)]
        whole = -(-frames // 12) * 3  # the last read is filled with silence
        assert found.tolist() == expected + [0.0] * (whole - len(expected))


def test_gains_glide_from_hop_to_hop(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(strokes, "_HOP", 4)
    sound, gains = np.ones((20, 2), np.float32), np.array([1.0, 1.0, 0.5, 0.25, 0.25, 1.0])
    curve = np.interp(np.arange(20) / 4, np.arange(6), gains)
    source = strokes.LevelledSource(InMemory(sound), gains)
    for start, count in itertools.product(range(20), (1, 2, 5, 8)):
        expected = part((sound * curve[:, None]).astype(np.float32), start, count)
        assert np.array_equal(source.read(start, count), expected)


def test_a_strummed_part_is_levelled_and_bent_under_its_own_top(monkeypatch: pytest.MonkeyPatch):
    """Hops of 10 frames: strokes of 0.1 but one of 0.8, which is 18.06 dB over the median."""
    monkeypatch.setattr(strokes, "_HOP", 10)
    told: list[tuple[Samples, float]] = []

    def bent(source: strokes.LevelledSource, ceiling: float) -> Iterator[Samples]:
        told.append((source.read(0, source.frames), ceiling))
        yield told[-1][0]

    monkeypatch.setattr(strokes, "clipped", bent)
    sound = np.full((200, 2), 0.1, np.float32)
    sound[80:120] = 0.8
    # A stroke every 40 frames, one of them told twice, one after the end.
    list(strokes.strummed(InMemory(sound), [0.0, 4.0, 4.05, 8.0, 12.0, 16.0, 9e9], 10))
    ((made, ceiling),) = told
    taken = 10 ** (-0.65 * (20 * math.log10(8) - 4) / 20)
    assert ceiling == pytest.approx(0.8 * taken * 10 ** (-5 / 20))
    hops = np.ones(23)
    hops[7:12] = taken  # from a hop before the stroke, so that its attack has it all
    curve = np.interp(np.arange(200) / 10, np.arange(23), hops)
    assert made[:, 0] == pytest.approx(sound[:, 0] * curve, rel=1e-6)


@pytest.mark.parametrize(
    ("level", "starts", "ceiling"),
    [(0.0, [0.0], math.inf), (0.1, [], math.inf), (0.1, [9e9], math.inf), (0.1, [0.0], 0.1)],
)
def test_a_part_without_strokes_is_left_alone_and_an_even_one_at_its_median(
    level: float, starts: list[float], ceiling: float, monkeypatch: pytest.MonkeyPatch
):
    told: list[float] = []
    monkeypatch.setattr(strokes, "clipped", lambda source, most: told.append(most) or iter(()))
    sound = np.full((2_000, 2), level, np.float32)
    assert list(strokes.strummed(InMemory(sound), starts, 44_100)) == []
    assert told == pytest.approx([ceiling])


def test_strokes_that_do_not_sound_are_no_measure_of_the_others(monkeypatch: pytest.MonkeyPatch):
    """Of hops of 0.1, 0.1, 0.2 and four silent ones the median is 0.1, 6 dB under the highest."""
    monkeypatch.setattr(strokes, "_HOP", 10)
    told: list[float] = []
    monkeypatch.setattr(strokes, "clipped", lambda source, most: told.append(most) or iter(()))
    sound = np.zeros((70, 2), np.float32)
    sound[:20], sound[20:30] = 0.1, 0.2
    list(strokes.strummed(InMemory(sound), [float(n) for n in range(7)], 10))
    levelled = 0.2 * 10 ** (-0.65 * (20 * math.log10(2) - 4) / 20)
    assert told == pytest.approx([max(levelled * 10 ** (-5 / 20), 0.1)])


def test_a_part_that_is_heard_only_before_its_first_stroke_is_left_alone():
    sound = np.zeros((5_000, 2), np.float32)
    sound[:100] = 0.5
    made = np.concatenate(list(strokes.strummed(InMemory(sound), [0.05], 44_100)))
    assert np.array_equal(made, sound)


@pytest.mark.parametrize(
    ("level", "how", "ceiling"),
    [(0.5, (), 0.5 * 10 ** (-5 / 20)), (0.5, (6.0,), 0.5 * 10 ** (-6 / 20)), (0.0, (), math.inf)],
)
def test_clicks_and_drums_are_bent_so_far_under_their_highest(
    level: float, how: tuple[float, ...], ceiling: float, monkeypatch: pytest.MonkeyPatch
):
    told: list[float] = []
    monkeypatch.setattr(strokes, "clipped", lambda source, most: told.append(most) or iter(()))
    for sound in (np.full((9, 2), level, np.float32), np.zeros((0, 2), np.float32)):
        list(strokes.rounded_tops(InMemory(sound), *how))
    assert told == pytest.approx([ceiling, math.inf])


# The bus


def test_how_far_single_strokes_stand_out():
    """At 100 frames a second a tenth has ten: one in fifty of those that sound is single."""

    def of(levels: list[float]) -> float:
        sound = np.zeros((10 * len(levels), 2), np.float32)
        sound[3::10, 1] = [-level for level in levels]
        return bus._stands_out_db(InMemory(sound), 100)

    assert of([0.5]) == 0.0
    assert of([0.1] * 48 + [0.5]) == 0.0  # one in forty-nine is none in fifty
    assert of([0.1] * 49 + [0.5]) == pytest.approx(20 * math.log10(5), abs=1e-5)
    assert of([0.1] * 49 + [0.0] * 30 + [0.5]) == pytest.approx(20 * math.log10(5), abs=1e-5)
    assert of([0.1] * 48 + [0.5, 0.5]) == 0.0
    assert of([0.2] * 97 + [0.4, 0.5, 0.8]) == pytest.approx(20 * math.log10(2), abs=1e-5)


@pytest.mark.parametrize(
    ("about", "peak_db", "single_db", "loss", "gains"),
    [
        (-30.0, -30.0, 0.0, 0.0, [14.0]),
        (-30.0, -30.0, 0.0, 0.2, [14.0]),  # 0.2 LU are near enough
        (-30.0, -30.0, 0.0, 0.25, [14.0, 14.25]),
        (-30.0, -30.0, 0.0, -1.0, [14.0, 13.0]),
        (-30.0, -8.0, 0.0, 0.0, [12.5]),  # no more than the limiter may take
        (-30.0, -8.0, 0.0, -3.0, [12.5, 10.5 + 0.5]),
        (-30.0, -8.0, 1.0, 0.0, [13.5]),
        (-30.0, -8.0, 9.0, 0.0, [14.0]),
        (-30.0, -8.0, 9.0, 0.5, [14.0, 14.5]),
        (-30.0, -8.0, 9.0, 2.0, [14.0, 15.0]),  # 2.5 dB more for single strokes, and no more
        # With 14 + 1 dB free, nobody asks what single strokes have.
        (-30.0, -10.5, 9.0, 3.0, [14.0, 15.0]),
        (-30.0, -10.25, 9.0, 3.0, [14.0, 17.0]),
        (-90.0, -90.0, 0.0, 0.0, [60.0]),  # never more than that
        (-75.5, -80.0, 0.0, 0.5, [59.5, 60.0]),
    ],
)
def test_one_gain_for_the_mix(
    about: float,
    peak_db: float,
    single_db: float,
    loss: float,
    gains: list[float],
    monkeypatch: pytest.MonkeyPatch,
):
    """The ceiling is 0 dB, so that the limiter may take 4.5 dB; levels are dB throughout."""
    asked: list[float] = []

    def finished(source: object, gain: float, *_: object, **__: object) -> bus.MeasuredSound:
        asked.append(gain)
        return bus.MeasuredSound(InMemory(noise(1)), about + gain - loss, -1.0)

    monkeypatch.setattr(bus, "_finished", finished)
    monkeypatch.setattr(bus, "decibels", lambda value: value)
    monkeypatch.setattr(bus, "true_peak", lambda source: peak_db)
    monkeypatch.setattr(bus, "_stands_out_db", lambda source, rate: single_db)
    with ExitStack() as stack:
        found, result = bus.level(InMemory(noise(1)), about, 100, stack, 0.0)
    assert asked == gains
    assert found == gains[-1]
    assert result.lufs == about + found - loss


def test_a_loss_that_grows_is_made_up_for_four_times_at_most(monkeypatch: pytest.MonkeyPatch):
    asked: list[float] = []

    def finished(source: object, gain: float, *_: object, **__: object) -> bus.MeasuredSound:
        asked.append(gain)
        return bus.MeasuredSound(InMemory(noise(1)), -17.0, -1.0)

    monkeypatch.setattr(bus, "_finished", finished)
    monkeypatch.setattr(bus, "true_peak", lambda source: 1e-3)
    with ExitStack() as stack:
        gain_db, _ = bus.level(InMemory(noise(1)), -30.0, 100, stack, 1.0)
    assert asked == pytest.approx([14.0, 15.0, 16.0, 17.0])
    assert gain_db == pytest.approx(18.0)


# The end of a stem


class Player:
    """Blocks of these levels; the file goes on for the first so many."""

    def __init__(self, levels: list[float], playing: int) -> None:
        self.levels, self.left = list(levels), playing

    def block(self) -> Samples:
        level = self.levels.pop(0) if self.levels else 0.0
        self.left -= 1
        return np.full((render.BLOCK, 2), level, np.float32)

    def playing(self) -> bool:
        return self.left > 0


@pytest.mark.parametrize(
    ("levels", "playing", "blocks"),
    [
        ([1.0, 0.5, 0.0], 1, 2),
        ([1.0, 0.5, 0.0], 2, 2),
        ([0.0, 0.0, 1.0, 0.0], 3, 3),  # silence while the file goes on ends nothing
        ([1.0, 0.0011, 0.0009, 1.0], 1, 2),  # quiet is 60 dB under the highest
        ([1.0, -0.0011, 0.0009], 1, 2),
        ([0.001, 0.5, 0.001, 0.0004], 1, 3),  # the highest may be in the ring
        ([1.0], 1, 1),
        ([0.0], 1, 1),  # and silence at once
        ([1.0] * 99, 1, 1 + 32),  # 12 s of a ring without an end: 32 whole blocks
    ],
)
def test_a_stem_ends_with_its_last_ring(levels: list[float], playing: int, blocks: int):
    made = list(render._blocks(Player(levels, playing), 44_100))  # type: ignore[arg-type]
    assert [len(block) for block in made] == [render.BLOCK] * blocks + [4_096]
    last = levels[blocks] if blocks < len(levels) and blocks <= 32 else 0.0
    if len(levels) == 99:
        last = 1.0
    fade = [math.cos(math.pi / 2 * n / 4_095) ** 2 * last for n in range(0, 4_096, 63)]
    for side in (0, 1):
        assert made[-1][::63, side] == pytest.approx(fade, abs=1e-6)
    assert [block[0, 0] for block in made[:-1]] == pytest.approx(levels[:blocks])
