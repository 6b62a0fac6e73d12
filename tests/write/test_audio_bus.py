"""Loudness, true peak, limiter and room, against pyloudnorm, SciPy and the standard's tables."""

from __future__ import annotations

from contextlib import ExitStack

import numpy as np
import numpy.typing as npt
import pyloudnorm
import pytest
from scipy import signal

from accomp.write.audio import loudness
from accomp.write.audio.bus import (
    SINGLE_MORE_DB,
    LimitedSource,
    MeasuredSound,
    blocks,
    level,
    measured,
)
from accomp.write.audio.limiter import CEILING, REDUCTION_MOST_DB, limited
from accomp.write.audio.loudness import decibels, loudness_lufs, true_peak
from accomp.write.audio.room import DECAY_S, convolved, room_response
from accomp.write.audio.spool import InMemory, Samples, Source, Spool, SummedSource

RATE = 44_100


def _noise(seconds: float, level: float = 0.1, seed: int = 1) -> Samples:
    random = np.random.default_rng(seed)
    return (level * random.standard_normal((round(seconds * RATE), 2))).astype(np.float32)


def _strokes(seconds: float = 6, level: float = 0.8) -> Samples:
    """Decaying noise every third of a second: peaks far above the average, as plucked strings."""
    time_s = np.arange(round(seconds * RATE)) / RATE
    noise = _noise(seconds, level / 4, 2) * np.exp(-(time_s % (1 / 3)) * 12)[:, None]
    # Nothing near half the sampling rate, where meters may differ by 0.7 dB (BS.1770-4, annex 2).
    return signal.lfilter(signal.firwin(101, 0.7), [1.0], noise, axis=0).astype(np.float32)


def _sine(frequency_hz: float, seconds: float, phase: float = 0.0) -> Samples:
    time_s = np.arange(round(seconds * RATE)) / RATE
    wave = np.sin(2 * np.pi * frequency_hz * time_s + phase)
    return np.stack([wave, wave], axis=1).astype(np.float32)


def _all(source: Source) -> Samples:
    return np.concatenate(list(blocks(source)))


def _oversampled_peak(sound: Samples) -> float:
    return float(np.abs(signal.resample_poly(sound.astype(float), 4, 1, axis=0)).max())


def test_k_weighting_is_the_standard_s() -> None:
    # Source: ITU-R BS.1770-4, tables 1 and 2 (coefficients at 48 kHz).
    shelf = ([1.53512485958697, -2.69169618940638, 1.19839281085285],
             [1.0, -1.69065929318241, 0.73248077421585])  # fmt: skip
    high_pass = ([1.0, -2.0, 1.0], [1.0, -1.99004745483398, 0.99007225036621])
    click = np.zeros(8_192)
    click[0] = 1
    expected = signal.lfilter(*high_pass, signal.lfilter(*shelf, click))
    ours = loudness._k_response(48_000)
    assert np.abs(ours - expected[: len(ours)]).max() < 1e-12
    assert np.abs(expected[len(ours) :]).max() < 1e-9  # what is left out is nothing


def test_the_standard_s_own_check_tone() -> None:
    # Source: BS.1770-4: a 997 Hz sine at 0 dB FS in one channel reads -3.01 LKFS.
    tone = _sine(997, 5)
    tone[:, 1] = 0
    assert loudness_lufs(InMemory(tone), RATE) == pytest.approx(-3.01, abs=0.05)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["noise", "strokes", "quiet end", "low tone"])
def test_loudness_agrees_with_pyloudnorm(name: str) -> None:
    sound = {
        "noise": _noise(3),
        "strokes": _strokes(),
        "quiet end": np.concatenate([_noise(3), _noise(6, 0.0005)]),
        "low tone": _sine(80, 3) * np.float32(0.3),
    }[name]
    expected = pyloudnorm.Meter(RATE).integrated_loudness(sound.astype(float))
    assert loudness_lufs(InMemory(sound), RATE) == pytest.approx(expected, abs=0.1)


def test_silence_and_very_short_sound_have_a_loudness_too() -> None:
    assert loudness_lufs(InMemory(np.zeros((RATE, 2), np.float32)), RATE) == -np.inf
    assert loudness_lufs(InMemory(np.zeros((0, 2), np.float32)), RATE) == -np.inf
    short = _noise(0.2)  # a block is 0.4 s; half of it sounds: 3 dB less
    whole = loudness_lufs(InMemory(_noise(4)), RATE)
    assert loudness_lufs(InMemory(short), RATE) == pytest.approx(whole - 3.01, abs=0.3)


@pytest.mark.many(1, 99)
@pytest.mark.parametrize("seed", range(3))
def test_true_peak_agrees_with_scipy(seed: int) -> None:
    low = signal.firwin(101, 0.6)
    sound = signal.lfilter(low, [1.0], _noise(2, 0.3, seed), axis=0).astype(np.float32)
    expected = _oversampled_peak(sound)
    assert decibels(true_peak(InMemory(sound)) / expected) == pytest.approx(0, abs=0.1)


def test_true_peak_between_samples() -> None:
    # A sine at a quarter of the rate, sampled at 45 degrees, never shows its crest in a sample.
    sound = _sine(RATE / 4, 2, np.pi / 4) * np.hanning(2 * RATE)[:, None].astype(np.float32)
    assert np.abs(sound).max() == pytest.approx(np.sqrt(0.5), abs=1e-4)
    assert true_peak(InMemory(sound)) == pytest.approx(1.0, abs=0.005)


def test_the_peak_does_not_depend_on_where_blocks_end() -> None:
    sound = np.zeros((300_000, 2), np.float32)
    for place in (0, 131_071, 131_072, 299_999):
        sound[:] = 0
        sound[place] = (0.5, -0.9)
        assert true_peak(InMemory(sound)) == pytest.approx(0.9)


@pytest.mark.parametrize("cut", [0.05, 0.3, 1.0])  # of half the rate: the highest tones bend most
def test_what_is_not_searched_for_peaks_has_none(cut: float) -> None:
    sound = _noise(1, 0.3, 5)
    if cut < 1:
        sound = signal.lfilter(signal.firwin(101, cut), [1.0], sound, axis=0).astype(np.float32)
    everywhere = loudness.peaks(sound, 0.0)
    for part in (0.6, 0.9, 0.99):
        above = float(everywhere.max()) * part
        found = loudness.peaks(sound, above)
        high = everywhere > above
        assert np.array_equal(found[high], everywhere[high])
        assert found[~high].max() <= above


@pytest.mark.parametrize("gain_db", [0.5, 3.0, 8.0])
def test_the_limiter_s_law(gain_db: float) -> None:
    sound = _strokes()
    gain = 10 ** (gain_db / 20) * CEILING / true_peak(InMemory(sound))
    made = list(limited(InMemory(sound), gain))
    result = np.concatenate([block for block, _ in made])
    assert result.shape == sound.shape
    assert decibels(_oversampled_peak(result)) <= -1.0
    loud = np.abs(sound) > 0.01
    curve = result[loud] / (sound[loud] * gain)
    assert curve.max() <= 1 + 1e-5  # it only takes away
    assert decibels(float(curve.min())) >= -gain_db - 0.01  # and no more than is needed
    assert decibels(min(least for _, least in made)) == pytest.approx(-gain_db, abs=0.01)


def test_the_limiter_glides() -> None:
    # One peak in a steady tone: the tone's gain never jumps.
    tone = _sine(440, 2) * np.float32(0.2)
    tone[RATE] = 1.2
    result = np.concatenate([block for block, _ in limited(InMemory(tone), 1.0)])
    strong = np.nonzero(np.abs(tone[:, 0]) > 0.05)[0]
    curve = result[strong, 0] / tone[strong, 0]
    assert np.abs(np.diff(curve) / np.diff(strong)).max() < 0.01  # a frame
    assert curve[0] == curve[-1] == 1.0
    assert curve.min() == pytest.approx(CEILING / 1.2, abs=0.01)


def _after_a_peak(at: int) -> Samples:
    """The limiter's gain frame by frame over a steady level with one peak at frame `at`."""
    sound = np.full((4 * RATE, 2), 0.5, np.float32)
    sound[at] = 1.4
    result = np.concatenate([block for block, _ in limited(InMemory(sound), 1.0)])
    return (result / sound)[:, 0]


def test_the_limiter_lets_go_within_forty_milliseconds() -> None:
    taken = 1 - _after_a_peak(RATE)
    assert taken[RATE - 200] == 0  # and takes hold no sooner than it must
    for start in (RATE + 200, RATE + 1_000, RATE + 3_000):
        later = start + round(0.04 * RATE)
        assert taken[later] / taken[start] == pytest.approx(np.exp(-1), abs=0.002)


def test_the_limiter_remembers_across_its_blocks() -> None:
    block = 131_072  # what it reads at a time
    here, there = _after_a_peak(block // 2), _after_a_peak(block - 5_000)
    one, other = here[block // 2 - 500 :][:20_000], there[block - 5_500 :][:20_000]
    assert one.min() < 0.7
    assert np.abs(one - other).max() < 1e-6


def test_below_the_ceiling_nothing_changes() -> None:
    sound = _noise(2)
    result = np.concatenate([block for block, _ in limited(InMemory(sound), 1.0)])
    assert np.array_equal(result, sound)


@pytest.mark.parametrize("gain_db", [-20.0, 9.0])
def test_what_is_only_written_down_is_what_would_be_measured(gain_db: float) -> None:
    sound = InMemory(_strokes())
    under = LimitedSource(sound, gain_db, CEILING)
    made = list(under)
    expected = list(limited(sound, 10 ** (gain_db / 20)))
    assert np.array_equal(np.concatenate(made), np.concatenate([one for one, _ in expected]))
    assert under.limited_db == -decibels(min(least for _, least in expected))
    assert (under.limited_db > 1) == (gain_db > 0)


@pytest.mark.many(1, 99)
@pytest.mark.parametrize("off", [-1.5, 0.0, 1.5])  # how loud it is need not be known exactly
@pytest.mark.parametrize("loud", [0.01, 0.8])
def test_one_gain_brings_the_mix_to_its_loudness(loud: float, off: float) -> None:
    full = InMemory(_noise(6, loud / 8) + _strokes(6, loud / 2))
    about_lufs = measured(full, RATE).lufs + off
    with ExitStack() as stack:
        _, result = level(full, about_lufs, RATE, stack)
        sound = _all(result.source).astype(float)
    assert result.limited_db <= REDUCTION_MOST_DB + 1e-3
    assert pyloudnorm.Meter(RATE).integrated_loudness(sound) == pytest.approx(-16, abs=0.5)
    assert decibels(_oversampled_peak(sound)) <= -1.0


def test_where_the_limiter_s_most_is_not_enough_loudness_gives_way() -> None:
    sound = np.zeros((4 * RATE, 2), np.float32)
    sound[:: RATE // 2] = 0.9  # clicks: all peak and no loudness
    full = InMemory(sound)
    with ExitStack() as stack:
        _, result = level(full, measured(full, RATE).lufs, RATE, stack)
        assert result.limited_db == pytest.approx(REDUCTION_MOST_DB, abs=1e-3)
        assert result.lufs < -20
        assert result.peak_db <= -1.0
        assert np.isfinite(_all(result.source)).all()


@pytest.mark.slow
@pytest.mark.parametrize(("hits", "reaches"), [(1, True), (8, False)])
def test_a_single_hit_does_not_hold_the_whole_down(hits: int, reaches: bool) -> None:
    sound = _strokes(9, 0.4)
    loudest = np.abs(sound).max()
    for hit in range(1, hits + 1):  # as everybody's last one in a short stop
        struck = sound[-hit * RATE + 4_410 :][:600]
        struck *= 2 * loudest / np.abs(struck).max()
    full = InMemory(sound)
    with ExitStack() as stack:
        _, result = level(full, measured(full, RATE).lufs, RATE, stack)
        made = _all(result.source).astype(float)
    assert decibels(_oversampled_peak(made)) <= -1.0
    assert result.limited_db <= REDUCTION_MOST_DB + SINGLE_MORE_DB + 1e-3
    assert (result.limited_db > REDUCTION_MOST_DB + 0.5) == reaches
    assert (pyloudnorm.Meter(RATE).integrated_loudness(made) > -16.5) == reaches


def test_silence_keeps_its_peace() -> None:
    full = InMemory(np.zeros((RATE, 2), np.float32))
    silent = MeasuredSound(full, -np.inf, -np.inf)
    assert measured(full, RATE) == silent
    with ExitStack() as stack:
        assert level(full, -np.inf, RATE, stack) == (0.0, silent)


def test_convolution_agrees_with_scipy() -> None:
    sound, response = _noise(3), np.random.default_rng(3).standard_normal((5_000, 2)) / 50
    result = np.concatenate(list(convolved(InMemory(sound), response)))
    for side in (0, 1):
        expected = signal.fftconvolve(sound[:, side].astype(float), response[:, side])
        assert np.abs(result[:, side] - expected).max() < 1e-5


def test_the_room_is_small_and_leaves_the_first_sound_alone() -> None:
    room = room_response(RATE)
    assert np.array_equal(room[0], [1, 1])
    back = room[1:]
    level_db = 10 * np.log10(np.square(back).sum(axis=0))
    assert np.all(level_db < -20)
    assert np.all(level_db > -22)
    assert not np.abs(back[: round(0.005 * RATE)]).any()  # the attack stays clean
    # Schroeder's backward integral: 60 dB in about the time given (from -5 to -25 dB, times 3).
    for side in back.T:
        energy: npt.NDArray[np.float64] = np.cumsum(side[::-1] ** 2)[::-1]
        fall = 10 * np.log10(energy / energy[0])
        times = [float(np.argmax(fall < limit)) / RATE for limit in (-5, -25)]
        assert 3 * (times[1] - times[0]) == pytest.approx(DECAY_S, abs=0.1)
    assert np.array_equal(room, room_response.__wrapped__(RATE))  # the same when made again


def test_a_spool_is_silent_round_its_sound() -> None:
    sound = _noise(0.01)
    with Spool() as spool:
        spool.append(sound[:100])
        spool.append(sound[100:])
        assert spool.frames == len(sound)
        assert np.array_equal(spool.read(-5, 10)[5:], sound[:5])
        assert not spool.read(-5, 5).any()
        assert np.array_equal(spool.read(90, 20), sound[90:110])
        assert not spool.read(len(sound) + 7, 5).any()
        both = SummedSource([spool, InMemory(sound[:50])], at_least=1_000)
        assert both.frames == 1_000
        assert np.array_equal(both.read(40, 20)[:10], 2 * sound[40:50])
        assert np.array_equal(both.read(40, 20)[10:], sound[50:60])
