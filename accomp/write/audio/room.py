"""A small room round the band: a few early reflections and a short even decay, and how sound is put
into it.

It is subtle, so that choked strokes stay dry: the sound that comes back is 21 dB below the direct
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

from collections.abc import Iterator
from functools import cache

import numpy as np
import numpy.typing as npt

from accomp.write.audio.spool import Sound, Source

DECAY_S = 0.25  # time to fall by 60 dB
LEVEL_DB = -21.0  # energy of all that comes back, against the direct sound
_LENGTH_S = 0.3
_NOISE_FROM_S = 0.012
_SOFTENING_S = 0.00008  # time constant of the low-pass on everything that comes back: 2 kHz
_SEED = 1897

# Delays in ms and gains of the first reflections, left and right: a room of about 4 by 5 m.
_REFLECTIONS = (
    ((5.3, 0.9), (8.9, -0.75), (12.7, 0.6), (17.1, 0.5), (23.9, -0.42)),
    ((6.1, 0.9), (8.1, -0.75), (13.9, 0.6), (16.3, 0.5), (25.3, -0.42)),
)


@cache
def room_response(sample_rate: int) -> npt.NDArray[np.float64]:
    """The room's answer to a click, shape (taps, 2). The same at every call."""
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


def _softened(sound: npt.NDArray[np.float64], sample_rate: int) -> npt.NDArray[np.float64]:
    """A first-order low-pass, as air and walls take high tones first."""
    keep = np.exp(-1 / (_SOFTENING_S * sample_rate))
    answer = (1 - keep) * keep ** np.arange(64)
    return np.stack([np.convolve(side, answer)[: len(sound)] for side in sound.T], axis=1)


_SIZE = 65_536  # of the Fourier transform; fixed, so that the bits repeat


def convolved(source: Source, response: npt.NDArray[np.float64]) -> Iterator[Sound]:
    """Blocks of `source` through `response`, source.frames + taps - 1 frames in all."""
    taps = len(response)
    step = _SIZE - taps + 1
    if step < _SIZE // 2:
        raise ValueError(f"a response of {taps} taps is too long for blocks of {_SIZE}")
    rows = np.ascontiguousarray(response.reshape(taps, -1).T, np.float32)
    spectrum = np.fft.rfft(rows, _SIZE)
    total = source.frames + taps - 1
    for start in range(0, total, step):
        block = np.ascontiguousarray(source.read(start - taps + 1, _SIZE).T)
        wet = np.fft.irfft(np.fft.rfft(block) * spectrum, _SIZE)
        yield wet[:, taps - 1 : taps - 1 + min(step, total - start)].T.astype(np.float32)
