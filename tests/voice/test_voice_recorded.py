"""The measure that recorded banjos were taken with, on sounds whose figures are known."""

from __future__ import annotations

import figure_checks as check
import numpy as np
import pytest

from benchmarks import voice_ear as ear
from benchmarks import voice_recorded as vr
from benchmarks.voice_recorded_table import BEFORE, RECORDED, table

KEY = 57  # A3, 220 Hz
TIMES = np.arange(2 * ear.RATE_HZ) / ear.RATE_HZ


def _tone(*parts: tuple[float, float], fall_db_s: float = 60.0, rise_ms: float = 0.0) -> ear.Sound:
    """Partials (hertz, decibels) that fall evenly, from 10 ms on."""
    since = np.maximum(TIMES - 0.01, 0.0)
    level = 10.0 ** (-fall_db_s * since / 20.0) * (TIMES >= 0.01)
    if rise_ms:
        level *= 1.0 - np.exp(-since * 1000.0 / rise_ms)
    waves = sum(10.0 ** (db / 20.0) * np.sin(2 * np.pi * hz * since) for hz, db in parts)
    return np.asarray(0.1 * level * waves)


def test_decay_and_levels_are_those_of_the_sound() -> None:
    found = vr.heard(_tone((220.0, 0.0), (440.0, 0.0), fall_db_s=60.0), KEY)
    assert found.early_db_s == pytest.approx(60.0, rel=0.05)
    assert found.late_db_s == pytest.approx(60.0, rel=0.05)
    assert found.levels_db[4] - found.levels_db[2] == pytest.approx(-18.0, abs=1.0)
    assert found.centroids_hz[2] == pytest.approx(330.0, rel=0.05)


def test_what_lies_between_partials_is_found() -> None:
    clean = vr.heard(_tone((220.0, 0.0), (440.0, 0.0)), KEY)
    ringing = vr.heard(_tone((220.0, 0.0), (440.0, 0.0), (330.0, -27.0)), KEY)
    assert clean.between_db[2] < -50.0
    assert ringing.between_db[2] == pytest.approx(-30.0, abs=1.0)


def test_a_band_has_its_own_decay() -> None:
    slow, fast = _tone((220.0, 0.0), fall_db_s=20.0), _tone((1320.0, -6.0), fall_db_s=100.0)
    assert vr.heard(slow + fast, KEY).bands_db_s[1] == pytest.approx(100.0, rel=0.05)


def test_a_slow_rise_is_a_long_attack() -> None:
    quick = vr.heard(_tone((220.0, 0.0), (660.0, -3.0)), KEY)
    slow = vr.heard(_tone((220.0, 0.0), (660.0, -3.0), rise_ms=8.0), KEY)
    assert slow.attack_ms > quick.attack_ms + 3.0
    assert slow.peak_ms > quick.peak_ms
    assert slow.crest_db < quick.crest_db


def test_noise_before_a_note_is_heard() -> None:
    sound = _tone((220.0, 0.0))
    noise = np.random.default_rng(1).normal(0.0, 0.001, round(0.009 * ear.RATE_HZ))
    sound[: noise.size] += noise
    assert vr.heard(_tone((220.0, 0.0)), KEY).before_db < -80.0
    assert -50.0 < vr.heard(sound, KEY).before_db < -38.0


@pytest.mark.slow
def test_scatter_is_about_the_trend() -> None:
    loud = [vr.heard(_tone((ear.key_hz(key), 0.0)), key) for key in range(48, 60)]
    assert vr.scatter_db(loud) < 0.3


def test_the_checks_tell_the_old_voice_from_a_recording() -> None:
    """What the voice measured before it was held against recordings fails."""
    with pytest.raises(AssertionError, match="between partials"):
        check.check_recorded(BEFORE)
    check.check_recorded(RECORDED)


def test_the_table_has_each_row_once() -> None:
    lines = table({"recorded": RECORDED, "before": BEFORE}).splitlines()
    assert len(lines) == 2 + len(RECORDED)
    assert RECORDED.keys() == BEFORE.keys()
    assert "| peak over loudness (dB, one note) | 16.7 | 18.9 |" in lines
