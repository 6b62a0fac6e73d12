"""Integrated loudness after ITU-R BS.1770-4, block by block in little memory.

Both stages of the K-weighting are put into one finite response and applied by Fourier transform:
SciPy's import alone would take longer than measuring a tune.

Conventions: loudness in LUFS (dB with K-weighting against full scale), -inf for silence; gating
blocks of 400 ms every 100 ms, absolute gate -70 LUFS, relative gate -10 LU. Sound shorter than one
block counts as if silence followed it. The tests hold it against pyloudnorm.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt

from accomp.write.audio.convolve import convolved
from accomp.write.audio.spool import Source

_OFFSET = -0.691  # BS.1770-4, annex 1
_ABSOLUTE_GATE, _RELATIVE_GATE = -70.0, -10.0
_TAPS = 8_192  # at 44.1 kHz the high-pass has fallen by 380 dB there

# Analogue parameters behind the standard's table of coefficients for 48 kHz, found by solving the
# bilinear transform for them (published in the same form with several free meters): frequency in
# Hz, quality, gain in dB of the high shelf; frequency and quality of the high-pass.
_SHELF = (1681.974450955533, 0.7071752369554196, 3.999843853973347)
_HIGH_PASS = (38.13547087602444, 0.5003270373238773)


def loudness_lufs(source: Source, sample_rate: int) -> float:
    """Integrated loudness of stereo sound; -inf when nothing passes the gates."""
    hop = sample_rate // 10
    sums: list[npt.NDArray[np.float64]] = []
    rest = np.zeros(0)
    for block in convolved(source, _k_response(sample_rate)):
        energy = np.concatenate([rest, np.einsum("fc,fc->f", block, block, dtype=np.float64)])
        whole = len(energy) // hop * hop
        sums.append(energy[:whole].reshape(-1, hop).sum(axis=1))
        rest = energy[whole:]
    hops = np.concatenate(sums)[: source.frames // hop]
    if len(hops) < 4:  # one block, the rest of it silent
        return _integrated(np.array([sum(map(float, np.concatenate(sums)[:4]))]) / (4 * hop))
    return _integrated(np.convolve(hops, np.ones(4), "valid") / (4 * hop))


def _integrated(power: npt.NDArray[np.float64]) -> float:
    """Loudness of blocks' mean squares (both channels added), gated twice."""
    with np.errstate(divide="ignore"):
        loudness = _OFFSET + 10 * np.log10(power)
    heard = loudness >= _ABSOLUTE_GATE
    if not heard.any():
        return -np.inf
    relative = _OFFSET + 10 * np.log10(power[heard].mean()) + _RELATIVE_GATE
    return float(_OFFSET + 10 * np.log10(power[heard & (loudness > relative)].mean()))


@cache
def _k_response(sample_rate: int) -> npt.NDArray[np.float64]:
    """The response to a click of both stages of the K-weighting."""
    click = np.zeros(_TAPS)
    click[0] = 1.0
    return _biquad(_biquad(click, *_high_shelf(sample_rate)), *_high_pass(sample_rate))


_Coefficients = tuple[float, float, float]


def _high_shelf(sample_rate: int) -> tuple[_Coefficients, _Coefficients]:
    frequency, quality, gain_db = _SHELF
    k = np.tan(np.pi * frequency / sample_rate)
    high = 10 ** (gain_db / 20)
    middle = high**0.4996667741545416
    a0 = 1 + k / quality + k * k
    top = (high + middle * k / quality + k * k, 2 * (k * k - high))
    return (
        (top[0] / a0, top[1] / a0, (high - middle * k / quality + k * k) / a0),
        (1.0, 2 * (k * k - 1) / a0, (1 - k / quality + k * k) / a0),
    )


def _high_pass(sample_rate: int) -> tuple[_Coefficients, _Coefficients]:
    frequency, quality = _HIGH_PASS
    k = np.tan(np.pi * frequency / sample_rate)
    a0 = 1 + k / quality + k * k
    return (1.0, -2.0, 1.0), (1.0, 2 * (k * k - 1) / a0, (1 - k / quality + k * k) / a0)


def _biquad(
    sound: npt.NDArray[np.float64], b: _Coefficients, a: _Coefficients
) -> npt.NDArray[np.float64]:
    """A second-order filter, written out (direct form II transposed)."""
    out = np.empty_like(sound)
    first = second = 0.0
    for at, now in enumerate(sound.tolist()):
        value = b[0] * now + first
        first = b[1] * now - a[1] * value + second
        second = b[2] * now - a[2] * value
        out[at] = value
    return out
