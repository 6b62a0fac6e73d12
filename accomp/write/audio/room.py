"""A small room round the band, with few early reflections and a short even decay; and convolution.

The room is subtle, so that choked strokes stay dry: the reflected sound is 21 dB below the direct
one and falls 60 dB in a quarter of a second. Nothing crosses from one side to the other, so that a
player who is panned to one side can be turned down there.

Conventions: a response has shape (taps,) for both channels alike or (taps, 2), one a channel; the
room's begins with the direct sound, unchanged and without delay. The form (exact delays and gains
for the first reflections, decaying noise for the rest, high tones dying sooner) is the usual one
for small rooms (Moorer, "About this reverberation business", Computer Music Journal 3(2), 1979);
the figures are ours. Sound goes through a response block by block (overlap-save; Oppenheim &
Schafer, or any text on digital signal processing).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from functools import cache

import numpy as np
import numpy.typing as npt

from accomp.write.audio.spool import Samples, Source

DECAY_S = 0.25  # time to fall by 60 dB
LEVEL_DB = -21.0  # energy of all reflected sound, against the direct sound
_LENGTH_S = 0.3
_NOISE_FROM_S = 0.012
_SOFTENING_S = 0.00008  # time constant of the low-pass on all reflected sound: 2 kHz
_SEED = 1897

# Delays in ms and gains of the first reflections, left and right: a room of about 4 by 5 m.
_REFLECTIONS = (
    ((5.3, 0.9), (8.9, -0.75), (12.7, 0.6), (17.1, 0.5), (23.9, -0.42)),
    ((6.1, 0.9), (8.1, -0.75), (13.9, 0.6), (16.3, 0.5), (25.3, -0.42)),
)


@cache
def room_response(sample_rate: int) -> npt.NDArray[np.float64]:
    """The room's response to a click, shape (taps, 2). The same at every call."""
    taps = int(_LENGTH_S * sample_rate)
    time_s = np.arange(taps) / sample_rate
    decay = 10 ** (-3 * time_s / DECAY_S)
    noise = np.random.default_rng(_SEED).standard_normal((taps, 2))
    noise[time_s < _NOISE_FROM_S] = 0
    back = 0.05 * noise * decay[:, None]
    for side, reflections in enumerate(_REFLECTIONS):
        for delay_ms, gain in reflections:
            back[round(delay_ms / 1000 * sample_rate), side] += gain
    back = _softened(back, sample_rate)
    back *= np.cos(np.linspace(0, np.pi / 2, taps))[:, None] ** 0.5  # to nothing at the end
    back *= 10 ** (LEVEL_DB / 20) / np.sqrt((back**2).sum(axis=0))
    back[0] += 1
    return back


HIGH_PASS_HZ = 30.0  # under the lowest note of a bass (E1: 41 Hz); fonts have rumble there
_HIGH_PASS_S = 0.1  # after that time its response has fallen by more than 100 dB


@cache
def bus_response(sample_rate: int, *, room: bool) -> npt.NDArray[np.float64]:
    """The response for every bus: the high-pass at 30 Hz, and the room where one is wanted.

    The high-pass is a Butterworth filter of fourth order (24 dB an octave), in two stages of second
    order. Shape (taps,), with a room (taps, 2).
    """
    response = np.zeros(int(_HIGH_PASS_S * sample_rate))
    response[0] = 1.0
    for quality in (0.54119610, 1.30656296):  # 1 / (2 cos(pi / 8)), 1 / (2 cos(3 pi / 8))
        response = biquad(response, *_high_pass(sample_rate, quality))
    if not room:
        return response
    around = room_response(sample_rate)
    return np.stack([np.convolve(side, response) for side in around.T], axis=1)


_Coefficients = tuple[float, float, float]


def _high_pass(sample_rate: int, quality: float) -> tuple[_Coefficients, _Coefficients]:
    """Second order, by the bilinear transform."""
    k = np.tan(np.pi * HIGH_PASS_HZ / sample_rate)
    a0 = 1 + k / quality + k * k
    top = (1 / a0, -2 / a0, 1 / a0)
    return top, (1.0, 2 * (k * k - 1) / a0, (1 - k / quality + k * k) / a0)


def biquad(
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


def _softened(sound: npt.NDArray[np.float64], sample_rate: int) -> npt.NDArray[np.float64]:
    """A first-order low-pass, as air and walls take high tones first."""
    keep = np.exp(-1 / (_SOFTENING_S * sample_rate))
    answer = (1 - keep) * keep ** np.arange(64)
    return np.stack([np.convolve(side, answer)[: len(sound)] for side in sound.T], axis=1)


# Size of the Fourier transforms: small enough for a processor's cache (four times the size takes
# three times as long); fixed, so that the bits repeat.
_SIZE = 16_384
_BLOCKS = 6  # read at a time


def convolved(source: Source, response: npt.NDArray[np.float64]) -> Iterator[Samples]:
    """Blocks of `source` through `response`, source.frames + taps - 1 frames in all.

    A long response is cut into parts as long as a block: each block's spectrum is multiplied with
    the first part for the block's own output, with the second part for the next output, and so on.
    """
    taps = len(response)
    step = _SIZE - taps + 1 if taps <= _SIZE // 4 else _SIZE // 2
    rows = np.ascontiguousarray(response.reshape(taps, -1).T, np.float32)
    longest = taps if taps <= _SIZE // 4 else step
    parts = [
        np.fft.rfft(rows[:, start : start + longest], _SIZE) for start in range(0, taps, longest)
    ]
    spectra: deque[npt.NDArray[np.complex128] | None] = deque(maxlen=len(parts))
    past = np.zeros((2, _SIZE - step), np.float32)
    total = source.frames + taps - 1
    for start in range(0, total, step * _BLOCKS):
        heard = np.concatenate([past, source.read(start, step * _BLOCKS).T], axis=1)
        past = heard[:, step * _BLOCKS :]
        wet = np.zeros((2, step * _BLOCKS), np.float32)
        for at in range(0, min(step * _BLOCKS, total - start), step):
            block = heard[:, at : at + _SIZE]
            # Silence, as after the clicks to the end of a tune, needs no transform.
            spectra.appendleft(np.fft.rfft(block) if block.any() else None)
            met = [
                spectrum * response
                for spectrum, response in zip(spectra, parts, strict=False)
                if spectrum is not None
            ]
            if met:
                whole = np.fft.irfft(sum(met[1:], start=met[0]), _SIZE)
                wet[:, at : at + step] = whole[:, _SIZE - step :]
        yield wet[:, : total - start].T
