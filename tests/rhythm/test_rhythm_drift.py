"""Straying as people do: as much as asked, long stretches together, the band in part together."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from accomp.rhythm.drift import MOST, SHARED, drift, spread_factor, straying, uneven

BAR = Fraction(1)
EIGHTHS = [Fraction(n, 8) for n in range(8)]


def line(seed: int, bars: int = 256, what=drift, who: str = "strum") -> np.ndarray:
    """Every eighth of so many bars of one section."""
    return np.array(
        [what(seed, who, f"1/A/1/{bar}", at, BAR) for bar in range(bars) for at in EIGHTHS]
    )


@pytest.mark.slow
def test_its_standard_deviation_is_one_and_it_keeps_its_bounds() -> None:
    every = np.concatenate([line(seed) for seed in range(12)])
    assert every.std() == pytest.approx(1.0, abs=0.1)
    assert every.mean() == pytest.approx(0.0, abs=0.15)
    assert np.abs(every).max() <= MOST


@pytest.mark.slow
def test_its_spectrum_falls_as_one_over_f() -> None:
    # Hennig et al. 2011: exponents near 1, from 0.2 to 1.3 in people's playing; chance has 0.
    power = np.mean([np.abs(np.fft.rfft(line(seed))) ** 2 for seed in range(30)], axis=0)
    turns = np.arange(len(power))
    band = (turns >= 16) & (turns <= 800)  # stretches from 16 bars to an eighth and a bit
    edges = np.geomspace(16, 800, 12)
    middle, height = [], []
    for low, high in pairwise(edges):
        here = band & (turns >= low) & (turns < high)
        middle.append(np.log(turns[here].mean()))
        height.append(np.log(power[here].mean()))
    slope = np.polyfit(middle, height, 1)[0]
    assert -1.4 < slope < -0.6


@pytest.mark.slow
def test_a_band_strays_in_part_together() -> None:
    pairs = [
        np.corrcoef(line(seed, 64, straying), line(seed, 64, straying, "bass"))[0, 1]
        for seed in range(20)
    ]
    assert np.mean(pairs) == pytest.approx(SHARED, abs=0.15)
    lone = [np.corrcoef(line(seed, 64), line(seed, 64, who="bass"))[0, 1] for seed in range(20)]
    assert abs(np.mean(lone)) < 0.15


def test_what_is_strummed_is_never_twice_alike() -> None:
    places = [("strum", "1/A/1/0", n) for n in range(400)]
    down = [spread_factor(up=False, seed=1, names=names) for names in places]
    up = [spread_factor(up=True, seed=1, names=names) for names in places]
    assert 0.75 <= min(down) < 0.85
    assert 1.15 < max(down) <= 1.25
    assert np.mean(up) < 0.9 * np.mean(down)
    for names in places[:50]:
        met = uneven(4, 1, names)
        assert (met[0], met[-1]) == (0.0, 1.0)
        gaps = np.diff(met)
        assert gaps.min() > 0.1
        assert gaps.max() / gaps.min() > 1.001


@pytest.mark.parametrize(("seed", "sign"), [(474, 1), (685, -1)])
def test_who_strays_with_everybody_and_alone_keeps_the_bounds(seed: int, sign: int) -> None:
    place = ("1/A/1/0", Fraction(0), BAR)
    parts = [drift(seed, who, *place) for who in ("everybody", "bass")]
    assert sign * sum(parts) * SHARED**0.5 > MOST  # both halves of the variance are 0.5
    assert straying(seed, "bass", *place) == sign * MOST
