"""Sources, responses and loudness block by block, against the same reckoned on whole arrays."""

from __future__ import annotations

import itertools
import math
from contextlib import ExitStack

import numpy as np
import pytest
from scipy import signal

from accomp.write.audio import bus, loudness, mixer, room, strokes
from accomp.write.audio.spool import DelayedSource, InMemory, Samples, Spool, SummedSource


def noise(frames: int, seed: int = 1, level: float = 0.1) -> Samples:
    random = np.random.default_rng(seed)
    return (level * random.standard_normal((frames, 2))).astype(np.float32)


def part(sound: Samples, start: int, count: int) -> Samples:
    """Frames of a sound that is silent outside itself."""
    wide = np.concatenate([np.zeros((50, 2)), sound, np.zeros((50, 2))])
    found: Samples = wide[50 + start : 50 + start + count].astype(np.float32)
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
            (DelayedSource(spool, 5), np.concatenate([np.zeros((5, 2)), whole])),
            (SummedSource([spool, InMemory(four)]), both),
            (
                SummedSource([InMemory(four), spool], at_least=20),
                np.concatenate([both, np.zeros((4, 2))]),
            ),
            (SummedSource([]), whole[:0]),
            (SummedSource([], at_least=7), np.zeros((7, 2))),
            (bus.ScaledSource(spool, 0.5), whole / 2),
            (mixer.PannedSource(spool, (0.5, 2.0)), whole * [0.5, 2.0]),
            (mixer.PannedSource(spool, (1.0, 2.0)), whole * [1.0, 2.0]),
            (mixer.HalfRateSource(spool), (whole[0::2] + whole[1::2]) / 2),
            (strokes.LevelledSource(spool, np.ones(3)), whole),
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


def between(sound: Samples, at: int, phase: float, reach: int = 12) -> float:
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
