"""Sound that is worked on block by block, against the same reckoned plainly on whole arrays.

Blocks, reaches and sizes are made small here where that makes every case of a seam come up.
"""

from __future__ import annotations

import itertools
import math
import statistics
from collections.abc import Iterator
from contextlib import ExitStack

import numpy as np
import numpy.typing as npt
import pytest
from scipy import signal

from accomp.score.performance import Note
from accomp.write.audio import bus, clip, desk, limiter, loudness, render, room, strokes
from accomp.write.audio.spool import InMemory, Later, Sound, Spool, Sum

Array = npt.NDArray[np.float64]


def noise(frames: int, seed: int = 1, level: float = 0.1) -> Sound:
    random = np.random.default_rng(seed)
    return (level * random.standard_normal((frames, 2))).astype(np.float32)


def part(sound: Sound, start: int, count: int) -> Sound:
    """Frames of a sound that is silent outside itself."""
    wide = np.concatenate([np.zeros((50, 2)), sound, np.zeros((50, 2))])
    found: Sound = wide[50 + start : 50 + start + count].astype(np.float32)
    return found


SEAMS = [
    (start, count) for start in (-9, -4, -1, 0, 1, 5, 9, 10, 11, 14, 20) for count in (1, 4, 30)
]


def test_any_part_of_any_source_is_that_part_of_the_whole():
    ten, four = noise(10), noise(4, 2)
    whole = np.concatenate([ten[:3], np.zeros((2, 2), np.float32), ten[3:], np.zeros_like(four)])
    both = whole.copy()
    both[:4] += four
    with ExitStack() as stack:
        spool = stack.enter_context(Spool())
        for block in (ten[:3], np.zeros((2, 2)), ten[3:6], ten[6:], np.zeros((4, 2))):
            spool.append(block.astype(np.float32))
        sources = [
            (spool, whole),
            (InMemory(whole), whole),
            (Later(spool, 5), np.concatenate([np.zeros((5, 2)), whole])),
            (Sum([spool, InMemory(four)]), both),
            (Sum([InMemory(four), spool], at_least=20), np.concatenate([both, np.zeros((4, 2))])),
            (Sum([]), whole[:0]),
            (Sum([], at_least=7), np.zeros((7, 2))),
            (bus.Scaled(spool, 0.5), whole / 2),
            (desk.Placed(spool, (0.5, 2.0)), whole * [0.5, 2.0]),
            (desk.Placed(spool, (1.0, 2.0)), whole * [1.0, 2.0]),
            (desk.Halved(spool), (whole[0::2] + whole[1::2]) / 2),
            (strokes.Levelled(spool, np.ones(3)), whole),
        ]
        for source, expected in sources:
            assert source.frames == len(expected)
            for start, count in SEAMS:
                found = source.read(start, count)
                assert np.allclose(found, part(expected, start, count), rtol=1e-6, atol=0)
                found[:] = 7  # what is read may be written on


def test_a_spool_takes_what_the_system_takes():
    """Files that take, and give, a few bytes at a time."""

    class Slow:
        def __init__(self) -> None:
            self.data, self.at = bytearray(400), 0

        def seek(self, at: int) -> None:
            self.at = at

        def write(self, data: memoryview) -> int:
            some = bytes(data[:12])
            self.data[self.at : self.at + len(some)] = some
            self.at += len(some)
            return len(some)

        def readinto(self, room: memoryview) -> int:
            some = min(20, len(room))
            room[:some] = self.data[self.at : self.at + some]
            self.at += some
            return some

    with Spool() as spool:
        spool._files = [Slow(), Slow()]
        sound = noise(50)
        spool.append(sound[:20])
        spool.append(sound[20:])
        assert np.array_equal(spool.read(0, 50), sound)
        assert np.array_equal(spool.read(13, 20), sound[13:33])


def test_sound_through_a_response_is_their_convolution(monkeypatch: pytest.MonkeyPatch):
    """For every length of response about the two at which it is cut up differently."""
    monkeypatch.setattr(room, "_SIZE", 32)
    monkeypatch.setattr(room, "_BLOCKS", 2)
    random = np.random.default_rng(3)
    for taps, sides in itertools.product((1, 7, 8, 9, 16, 17, 33, 50), (1, 2)):
        response = random.standard_normal((taps, sides)[:sides])
        both = response.reshape(taps, -1)
        for frames in (1, 25, 33, 100):
            sound = noise(frames, taps)
            sound[frames // 3 : frames * 4 // 5] = 0
            found = list(room.convolved(InMemory(sound), response))
            expected = [np.convolve(sound[:, n], both[:, n % sides]) for n in (0, 1)]
            assert np.concatenate(found) == pytest.approx(np.stack(expected, axis=1), abs=1e-6)


def test_a_second_order_filter_is_its_difference_equation():
    b, a = (0.5, -0.25, 0.125), (1.0, -0.3, 0.2)
    sound = np.random.default_rng(1).standard_normal(40)
    found = room.biquad(sound, b, a)
    for n in range(40):
        heard = [sound[n - k] if n >= k else 0.0 for k in range(3)]
        said = [found[n - k] if n >= k else 0.0 for k in range(3)]
        expected = sum(x * y for x, y in zip(b, heard, strict=True))
        assert found[n] == pytest.approx(expected - a[1] * said[1] - a[2] * said[2])


def test_the_room_s_answer_is_made_of_what_it_says():
    """Reckoned again at a low rate, in plain loops, from the room's own figures."""
    rate = 4_000
    taps = 1_200  # 0.3 s
    dice = np.random.default_rng(1897).standard_normal((taps, 2))
    for side, reflections in enumerate(
        (
            ((5.3, 0.9), (8.9, -0.75), (12.7, 0.6), (17.1, 0.5), (23.9, -0.42)),
            ((6.1, 0.9), (8.1, -0.75), (13.9, 0.6), (16.3, 0.5), (25.3, -0.42)),
        )
    ):
        back = [
            0.0 if n / rate < 0.012 else 0.05 * dice[n, side] * 10 ** (-3 * n / rate / 0.25)
            for n in range(taps)
        ]
        for delay_ms, gain in reflections:
            back[round(delay_ms / 1000 * rate)] += gain
        keep = math.exp(-1 / (0.00008 * rate))
        soft, last = [], 0.0
        for value in back:
            last = last * keep + (1 - keep) * value
            soft.append(last)
        ended = [v * math.sqrt(math.cos(math.pi / 2 * n / (taps - 1))) for n, v in enumerate(soft)]
        loud = 10 ** (-21 / 20) / math.sqrt(sum(v * v for v in ended))
        expected = [v * loud + (n == 0) for n, v in enumerate(ended)]
        assert room.room_response(rate)[:, side] == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("rate", [4_000, 44_100])
def test_the_high_pass_is_butterworth_s_of_the_fourth_order(rate: int):
    """Its response to a click is as loud at each frequency as the formula says, warped as the
    bilinear transform does."""
    response = room.bus_response(rate, room=False)
    assert response.shape == (rate // 10,)
    corner = math.tan(math.pi * 30 / rate)
    for hz in (8, 15, 25, 30, 35, 60, 200, rate // 2 - 1):
        level = abs(response @ np.exp(-2j * np.pi * hz / rate * np.arange(len(response))))
        ratio = corner / math.tan(math.pi * hz / rate)
        assert level == pytest.approx(1 / math.sqrt(1 + ratio**8), abs=2e-3)
    if rate > 4_000:
        return
    around = room.bus_response(rate, room=True)
    assert around.shape == (int(0.3 * rate) + rate // 10 - 1, 2)
    for side in (0, 1):
        expected = np.convolve(room.room_response(rate)[:, side], response)
        assert around[:, side] == pytest.approx(expected, abs=1e-12)


# Loudness


def plain_lufs(hops: list[float], hop: int) -> float:
    """ITU-R BS.1770-4, annex 1: blocks of four hops, two gates."""
    powers = [sum(hops[n : n + 4]) / (4 * hop) for n in range(len(hops) - 3)]
    if not powers:
        powers = [sum(hops) / (4 * hop)]
    loud = [-0.691 + 10 * math.log10(p) if p > 0 else -math.inf for p in powers]
    heard = [p for p, lufs in zip(powers, loud, strict=True) if lufs >= -70]
    if not heard:
        return -math.inf
    gate = -0.691 + 10 * math.log10(sum(heard) / len(heard)) - 10
    kept = [p for p, lufs in zip(powers, loud, strict=True) if lufs >= -70 and lufs > gate]
    return -0.691 + 10 * math.log10(sum(kept) / len(kept))


def of_lufs(lufs: float, hop: int) -> float:
    """The energy of a hop in a block as loud as that."""
    return float(hop * 10 ** ((lufs + 0.691) / 10))


@pytest.mark.parametrize(
    "levels",
    [
        [-20.0] * 8, [-20.0] * 3, [-20.0], [], [-71.0] * 6, [-69.9] * 6, [-70.1] * 3, [-69.9] * 3,
        [-20.0] * 6 + [-29.0] * 6, [-20.0] * 6 + [-40.0] * 6, [-20.0] * 6 + [-75.0] * 6,
        [-65.0] * 6 + [-80.0] * 9, [-10.0, -50.0] * 5, [-20.0] * 5 + [-27.0] * 40,
    ],
)  # fmt: skip
def test_loudness_passes_both_gates_block_by_block(levels: list[float]):
    hop = 100
    hops = [of_lufs(level, hop) for level in levels]
    found = loudness.lufs_of(np.array(hops), len(hops) * hop, 10 * hop)
    assert found == pytest.approx(plain_lufs(hops, hop))
    # What comes after the last whole hop of the sound is no sound of it.
    more = np.array([*hops, of_lufs(-5, hop)])
    if len(hops) >= 4:
        assert loudness.lufs_of(more, len(hops) * hop + hop - 1, 10 * hop) == pytest.approx(found)


def test_the_energies_of_tenths_of_a_second_are_those_of_the_weighted_sound(
    monkeypatch: pytest.MonkeyPatch,
):
    monkeypatch.setattr(room, "_BLOCKS", 1)
    sound = noise(20_000)
    response = loudness._k_response(8_000)
    heard = [signal.fftconvolve(sound[:, side], response) for side in (0, 1)]
    squares = heard[0] ** 2 + heard[1] ** 2
    expected = [squares[at : at + 800].sum() for at in range(0, len(squares) - 799, 800)]
    assert loudness.hop_energies(InMemory(sound), 8_000) == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(
    ("value", "found"), [(1.0, 0.0), (10.0, 20.0), (0.5, -6.0206), (0, -math.inf)]
)
def test_decibels(value: float, found: float):
    assert loudness.decibels(value) == pytest.approx(found, abs=1e-4)


def between(sound: Sound, at: int, phase: float, reach: int = 12) -> float:
    """The wave between a frame and the next, by a windowed sinc of so many samples each way."""
    taps = np.arange(-reach + 1, reach + 1)
    away = taps - phase
    weights = np.sinc(away) * np.cos(np.pi * away / (2 * reach + 1)) ** 2
    weights /= weights.sum()
    heard = [sound[at + tap] if 0 <= at + tap < len(sound) else 0.0 for tap in taps]
    return float(np.dot(weights, heard))


@pytest.mark.parametrize("frames", [1, 64, 66])
def test_the_peak_at_each_frame_is_the_highest_of_the_way_to_the_next(frames: int):
    sound = noise(frames, frames, 0.4)
    wide = InMemory(sound).read(-12, frames + 24)
    expected = []
    for at in range(frames):
        ways = [abs(between(sound[:, side], at, n / 4)) for side in (0, 1) for n in (1, 2, 3)]
        expected.append(max(*ways, *np.abs(sound[at])))
    assert loudness.peaks(wide, 0.0) == pytest.approx(expected, abs=1e-5)
    greatest = loudness.true_peak(InMemory(sound))
    first = max(abs(between(sound[:, side], -1, n / 4)) for side in (0, 1) for n in (1, 2, 3))
    assert greatest == pytest.approx(max(*expected, min(first, greatest)), abs=1e-5)
    # Where nothing is asked for, the sample's own value stands.
    assert np.array_equal(loudness.peaks(wide, 1e9), np.abs(sound).max(axis=1))


def test_bounds_of_what_stands_between_samples_hold():
    """No sound of samples up to 1 goes beyond the first; none that bends so much, the second."""
    most, beyond = loudness._bounds()
    weights = loudness._weights()
    assert most == pytest.approx(max(np.abs(row).sum() for row in weights))
    assert 1 < most < 3
    random = np.random.default_rng(5)
    nearest = 0.0
    for _ in range(200):
        bends = random.choice([-1.0, 1.0], 24)
        wave = np.cumsum(np.cumsum(bends))
        for row, phase in zip(weights.astype(float), (0.25, 0.5, 0.75), strict=True):
            line = wave[11] * (1 - phase) + wave[12] * phase
            off = abs(row @ wave - line)
            assert off <= beyond * 1.0001
            nearest = max(nearest, off / beyond)
    assert nearest > 0.5  # and it is no idle bound
    assert list(loudness.bend(np.array([[0, 1, 0, 0], [0, 0, 5, 1]], np.float32))) == [0, 5, 9, 0]


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
    source = strokes.Levelled(InMemory(sound), gains)
    for start, count in itertools.product(range(20), (1, 2, 5, 8)):
        expected = part((sound * curve[:, None]).astype(np.float32), start, count)
        assert np.array_equal(source.read(start, count), expected)


def test_a_strummed_part_is_levelled_and_bent_under_its_own_top(monkeypatch: pytest.MonkeyPatch):
    """Hops of 10 frames: strokes of 0.1 but one of 0.8, which is 18.06 dB over the median."""
    monkeypatch.setattr(strokes, "_HOP", 10)
    told: list[tuple[Sound, float]] = []

    def bent(source: strokes.Levelled, ceiling: float) -> Iterator[Sound]:
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
        list(strokes.rounded(InMemory(sound), *how))
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

    def finished(source: object, gain: float, *_: object, **__: object) -> bus.Measured:
        asked.append(gain)
        return bus.Measured(InMemory(noise(1)), about + gain - loss, -1.0)

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

    def finished(source: object, gain: float, *_: object, **__: object) -> bus.Measured:
        asked.append(gain)
        return bus.Measured(InMemory(noise(1)), -17.0, -1.0)

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

    def block(self) -> Sound:
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
