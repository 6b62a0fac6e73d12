"""Convolution of long sounds with short responses, block by block (overlap-save).

Conventions: a response has shape (taps,) for both channels alike or (taps, 2), one a channel.
Source of the method: any text on digital signal processing (Oppenheim & Schafer, overlap-save).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from accomp.write.audio.spool import Sound, Source

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
