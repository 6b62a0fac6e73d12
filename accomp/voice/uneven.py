"""How much louder or softer than even each note of an instrument is.

On a real instrument some notes are louder than their neighbours, whoever plays and however hard: a
recorded tenor banjo's scatter by 1.5 to 2.5 dB about the trend. Here every fret of every string has
a deviation of its own, drawn once and always the same; it keeps within STEP_DB of the fret below,
and of what is a semitone lower on the next string, so that no scale limps.
"""

from __future__ import annotations

import math

import numpy as np

from accomp.voice.parameters import Voice

STEP_DB = 2.3  # of what is a semitone apart; 2.5 as heard, where beats and rounding add a little


def unevenness_db(voice: Voice) -> tuple[tuple[float, ...], ...]:
    """The deviation of each fret (the open string the first) of each string, in the voice's order.

    Drawn evenly from what its neighbour leaves of ±√3 times the scatter asked for, so that nothing
    lies far out.
    """
    most = math.sqrt(3.0) * voice.plectrum.spread_db
    frets, strings = voice.neck.frets, voice.strings
    rows: list[list[float]] = []
    for index, string in enumerate(strings):
        random = np.random.default_rng((index, frets))
        below = string.pitch - 1 - strings[index - 1].pitch if index else -1  # a fret of the last
        near = rows[-1][below] if 0 <= below <= frets else None
        row: list[float] = []
        for _ in range(frets + 1):
            low = -most if near is None else max(-most, near - STEP_DB)
            high = most if near is None else min(most, near + STEP_DB)
            near = float(random.uniform(low, high))
            row.append(near)
        rows.append(row)
    return tuple(map(tuple, rows))
