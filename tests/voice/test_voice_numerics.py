"""The models' own mathematics, judged by SciPy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import interpolate, ndimage, signal, special

from accomp.voice import numerics
from accomp.voice.stretch import warp

RANDOM = np.random.default_rng(17)


def _noise(count: int) -> np.ndarray:
    return RANDOM.normal(0.0, 1.0, count)


@pytest.mark.parametrize("count", [1, 300, 4097])
@pytest.mark.parametrize("taps", [1, 89, 1323])
def test_a_window_is_moved_over_a_sound(count: int, taps: int) -> None:
    sound, window = _noise(count), np.hanning(taps + 2)[1:-1]
    wanted = np.convolve(sound, window)[taps // 2 :][:count]
    assert numerics.convolved(sound, window) == pytest.approx(wanted, abs=1e-10)


def test_sizes_of_transforms_are_the_least_that_are_fast() -> None:
    smooth = sorted(2**a * 3**b * 5**c for a in range(1, 18) for b in range(11) for c in range(8))
    for least in (1, 2, 3, 7, 128, 129, 4001, 4097, 65537, 131071):
        assert numerics.fast_size(least) == next(size for size in smooth if size >= least)


@pytest.mark.parametrize(("every", "count"), [(2, 5000), (3, 5001), (4, 47)])
def test_a_rate_is_lowered_and_raised(every: int, count: int) -> None:
    sound = _noise(count)
    kernel = numerics.low_pass(24 * every + 1, 0.93 / every, 8.0)
    wanted = signal.firwin(24 * every + 1, 0.93 / every, window=("kaiser", 8.0))
    assert kernel == pytest.approx(wanted, abs=1e-15)
    wanted = signal.resample_poly(sound, 1, every, window=kernel)
    assert numerics.thinned(sound, kernel, every) == pytest.approx(wanted, abs=1e-13)
    wanted = signal.resample_poly(sound, every, 1, window=kernel)
    assert numerics.finer(sound, kernel, every) == pytest.approx(wanted, abs=1e-13)


def test_a_sound_is_read_between_its_samples() -> None:
    sound = _noise(3000)
    places = np.sort(np.append(RANDOM.uniform(0.0, 2999.0, 2000), (0.0, 1.0, 2998.5, 2999.0)))
    wanted = ndimage.map_coordinates(sound, places[None], order=3, mode="mirror")
    assert numerics.Interpolation(places, sound.size).of(sound) == pytest.approx(wanted, abs=1e-12)
    at_rest = warp(sound, np.zeros(500), 100)
    assert at_rest == pytest.approx(sound, abs=1e-12)


@pytest.mark.parametrize("shape", [(200,), (5, 200)])
def test_a_spline_goes_through_uneven_knots(shape: tuple[int, ...]) -> None:
    knots = np.cumsum(RANDOM.uniform(0.2, 1.0, 200))
    values = RANDOM.normal(size=shape) + 1j * RANDOM.normal(size=shape)
    places = np.linspace(knots[0], knots[-1], 999)
    wanted = interpolate.CubicSpline(knots, values, axis=-1)(places)
    assert np.abs(numerics.splined(knots, values, places) - wanted).max() < 1e-11


def test_bessel_functions_of_real_numbers_and_their_zeros() -> None:
    orders, x = (each.ravel() for each in np.mgrid[0:90:7, 0.0:120.0:0.83])
    orders = orders.astype(np.int64)
    assert numerics.bessel_j(orders, x) == pytest.approx(special.jv(orders, x), abs=2e-14)
    for order in (0, 1, 2, 17, 69):
        wanted = special.jn_zeros(order, 40)
        found = numerics.bessel_zeros(order, 80.0)
        assert found == pytest.approx(wanted[wanted < 80.0], abs=1e-11)
    assert numerics.bessel_zeros(90, 80.0).size == 0
    assert numerics.bessel_zeros(0, 0.5).size == 0


def test_bessel_functions_along_a_line_of_the_laplace_plane() -> None:
    z = 0.02 + 1j * np.linspace(0.0, 40.0, 333)
    found = numerics.bessel_i_scaled(75, z)
    for order in range(75):
        wanted = special.iv(order, z) * np.exp(-z)
        assert np.abs(found[order] - wanted).max() < 1e-14
