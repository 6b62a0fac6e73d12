"""Numerical methods that numpy does not have: resampling, splines, Bessel functions, convolution.

A general library for them is as large as all other dependencies together; the tests compare these
functions with it. Sums run term by term over whole arrays, in a fixed order and without matrix
products, so that every processor rounds alike.

Conventions: Bessel functions have integer orders from 0 on; places in a sound are counted in
samples.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from accomp.voice.laplace import Complexes, Floats

Orders = npt.NDArray[np.int64]

POLE = math.sqrt(3.0) - 2.0  # of the filter that turns samples into coefficients of cubic B-splines
REACH = 32  # samples; beyond them the filter's response is below POLE**32, less than rounding
ZERO_STEP = 0.5  # zeros of a Bessel function lie at least 2.9 apart
FEWEST = 24  # points of a mean over an angle, beyond those that the function's waves need


def convolved(sound: Floats, window: Floats) -> Floats:
    """A sound convolved with a window of odd length, centred: as long as the sound."""
    size = fast_size(sound.size + window.size - 1)
    both = np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(window, size), size)
    return np.asarray(both[window.size // 2 :][: sound.size])


@lru_cache(maxsize=64)
def rounded(size: int) -> Floats:
    """A Hann window of `size` samples, read-only."""
    window = np.hanning(size)
    window.flags.writeable = False  # it is cached
    return window


def fast_size(least: int) -> int:
    """The smallest even number from `least` on without a prime factor above 5: a length for which
    the Fourier transform is fast.
    """
    best = int(2 ** max(math.ceil(math.log2(least)), 1))
    for fives in range(math.ceil(math.log(best, 5)) + 1):
        for threes in range(math.ceil(math.log(best, 3)) + 1):
            odd = int(5**fives * 3**threes)
            twos = max(math.ceil(math.log2(least / odd)), 1)
            best = min(best, odd * int(2**twos))
    return best


def low_pass(taps: int, cutoff: float, beta: float) -> Floats:
    """A symmetric low-pass filter of gain 1 at 0 Hz: a sinc under a Kaiser window. `cutoff` is a
    share of half the sampling rate; the number of taps is odd.
    """
    times = np.arange(taps) - (taps - 1) / 2
    kernel = np.sinc(cutoff * times) * np.kaiser(taps, beta)
    return np.asarray(kernel / kernel.sum())


def thinned(sound: Floats, kernel: Floats, every: int) -> Floats:
    """A sound filtered and decimated: one sample in `every`, beginning with the first. The kernel
    is symmetric and of odd length.
    """
    half = kernel.size // 2
    count = -(-sound.size // every)
    padded = np.pad(sound, (half, half + every))
    result = kernel[half] * padded[half::every][:count]
    for off in range(1, half + 1):
        both = padded[half - off :: every][:count] + padded[half + off :: every][:count]
        result += kernel[half + off] * both
    return np.asarray(result)


def finer(sound: Floats, kernel: Floats, times: int) -> Floats:
    """A sound at `times` its sampling rate. The kernel is a low-pass at the new rate: symmetric, of
    odd length, with gain 1 at 0 Hz.
    """
    half = kernel.size // 2
    reach = half // times + 1
    padded = np.pad(sound, reach)
    result = np.zeros((sound.size, times))
    for phase in range(times):
        for off in range(-reach, reach + 1):
            tap = half + phase - off * times
            if 0 <= tap < kernel.size:
                result[:, phase] += times * kernel[tap] * padded[reach + off :][: sound.size]
    return result.ravel()


def spline_coefficients(sound: Floats) -> Floats:
    """Coefficients of the cubic B-spline through a sound's samples, the ends mirrored, with REACH
    more coefficients on either side.

    The inverse of the filter (1/6, 4/6, 1/6) is −6·z/((1 − z·q)(1 − z/q)), z = POLE, q a delay of
    one sample; each factor is a product of (1 + (z·q)^1)(1 + (z·q)^2)(1 + (z·q)^4) and so on.
    """
    weights = np.pad(sound, 2 * REACH, mode="reflect")
    weights *= -6.0 * POLE
    scratch = np.empty_like(weights)
    step = 1
    while step < REACH:
        weights[step:] += np.multiply(weights[:-step], POLE**step, out=scratch[step:])
        weights[:-step] += np.multiply(weights[step:], POLE**step, out=scratch[step:])
        step *= 2
    return weights[REACH:-REACH]


class Interpolation:
    """Cubic interpolation at places from 0 to size − 1 in sounds of `size` samples."""

    def __init__(self, places: Floats, size: int) -> None:
        whole = np.minimum(places.astype(np.int64), size - 1)
        part = places - whole
        rest = 1.0 - part
        self._first = np.add(whole, REACH - 1, out=whole)
        self._shares = _cube(rest), _hill(part), _hill(rest), _cube(part)

    def of(self, sound: Floats) -> Floats:
        """The sound's values at the places, by the cubic spline through its samples."""
        weights = spline_coefficients(sound)
        result = np.zeros(self._first.size)
        near = np.empty(self._first.size)
        for number, share in enumerate(self._shares):
            weights[number:].take(self._first, out=near, mode="clip")  # else it copies to check
            near *= share
            result += near
        result /= 6.0
        return result


def _cube(part: Floats) -> Floats:
    return np.asarray(part * part * part)


def _hill(part: Floats) -> Floats:
    """The middle of a B-spline, 4 − 6·x² + 3·x³."""
    return np.asarray(4.0 - part * part * (6.0 - 3.0 * part))


def splined(knots: Floats, values: Complexes, places: Floats) -> Complexes:
    """Values at places along the last axis, by the "not-a-knot" cubic spline. Knots and places
    rise; there are at least four knots.
    """
    rows = np.moveaxis(values, -1, 0)
    steps = np.diff(knots)
    shaped = steps.reshape(-1, *(1,) * (rows.ndim - 1))
    slopes = np.diff(rows, axis=0) / shaped
    knot_slopes = _knot_slopes(steps, shaped, slopes)
    piece = np.clip(np.searchsorted(knots, places, side="right") - 1, 0, steps.size - 1)
    off = (places - knots[piece]).reshape(-1, *(1,) * (rows.ndim - 1))
    bend = (knot_slopes[:-1] + knot_slopes[1:] - 2.0 * slopes) / shaped
    curve = (slopes - knot_slopes[:-1]) / shaped - bend
    cubic = (bend / shaped)[piece]
    result = rows[piece] + off * (knot_slopes[piece] + off * (curve[piece] + off * cubic))
    return np.asarray(np.moveaxis(result, 0, -1))


def _knot_slopes(steps: Floats, shaped: Floats, slopes: Complexes) -> Complexes:
    """The spline's slope at each knot: the solution of a tridiagonal system of equations."""
    count = steps.size + 1
    below, on, above = np.zeros(count), np.zeros(count), np.zeros(count)
    right = np.zeros((count, *slopes.shape[1:]), slopes.dtype)
    below[1:-1], above[1:-1] = steps[1:], steps[:-1]
    on[1:-1] = 2.0 * (steps[1:] + steps[:-1])
    right[1:-1] = 3.0 * (shaped[1:] * slopes[:-1] + shaped[:-1] * slopes[1:])
    for end, near, far in ((0, 0, 1), (-1, -1, -2)):
        two = steps[near] + steps[far]
        on[end] = steps[far]
        (above if end == 0 else below)[end] = two
        right[end] = (
            (steps[near] + 2.0 * two) * steps[far] * slopes[near] + steps[near] ** 2 * slopes[far]
        ) / two
    left = on.tolist()  # Python floats: a loop over numpy's is slow
    lower, upper = below.tolist(), above.tolist()
    for row in range(1, count):
        share = lower[row] / left[row - 1]
        left[row] -= share * upper[row - 1]
        right[row] -= share * right[row - 1]
    right[-1] /= left[-1]
    for row in range(count - 2, -1, -1):
        right[row] = (right[row] - upper[row] * right[row + 1]) / left[row]
    return right


def bessel_j(order: Orders, x: Floats) -> Floats:
    """J_m(x) of each order at each x, broadcast: (1/π)·∫cos(m·θ − x·sin θ)dθ, 0 to π.

    The mean of a smooth periodic function over evenly spaced points is exact to rounding once
    there are more points than it has waves.
    """
    highest = float(np.abs(x).max()) + float(order.max())
    count = math.ceil(highest / 2.0 + 6.0 * math.cbrt(highest)) + FEWEST
    total = np.zeros(np.broadcast_shapes(order.shape, x.shape))
    for number in range(count):
        angle = math.pi * (number + 0.5) / count
        total += np.cos(order * angle - x * math.sin(angle))
    return np.asarray(total / count)


def bessel_zeros(order: int, below: float) -> Floats:
    """The positive zeros of J of an order that lie below a number, rising."""
    start = max(float(order), 1.0)  # no zero lies lower
    if below <= start:
        return np.zeros(0)
    grid = np.arange(start, below + ZERO_STEP, ZERO_STEP)
    orders = np.full(grid.size, order)
    values = bessel_j(orders, grid)
    changes = np.flatnonzero(values[:-1] * values[1:] < 0.0)
    x = grid[changes] + ZERO_STEP * values[changes] / (values[changes] - values[changes + 1])
    orders = orders[: x.size]
    for _ in range(4 if x.size else 0):  # Newton's method: each step doubles the exact digits
        value = bessel_j(orders, x)
        slope = order / x * value - bessel_j(orders + 1, x)
        x = x - value / slope
    return x[x < below]


def bessel_i_scaled(orders: int, z: Complexes) -> Complexes:
    """I_m(z)·exp(−z) for m below `orders` at each z, shape (orders, size of z): the Fourier
    coefficients of exp(z·(cos θ − 1)), from more points round the circle than it has waves.
    """
    highest = float(np.abs(z).max()) + orders
    count = fast_size(math.ceil(highest + 12.0 * math.cbrt(highest)) + 2 * FEWEST)
    angles = 2.0 * np.pi * np.arange(count // 2 + 1) / count
    half = np.exp(np.multiply.outer(np.cos(angles) - 1.0, z))
    return np.asarray(np.fft.fft(np.concatenate((half, half[-2:0:-1])), axis=0)[:orders] / count)
