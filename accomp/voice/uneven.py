"""The differences in loudness between the notes of an instrument.

On a real instrument some notes are louder than their neighbours at every force: notes of a recorded
tenor banjo scatter by 1.5 to 2.5 dB about the trend. Here every fret of every string has a seeded
random deviation. It stays within STEP_DB of the deviation one fret below, and of the note a
semitone lower on the string before, so that no note stands out of a scale.
"""

from __future__ import annotations

import math

import numpy as np

from accomp.voice.parameters import Voice

STEP_DB = 2.3  # between notes a semitone apart; measured it is up to 2.5, with beats and rounding


def unevenness_db(voice: Voice) -> tuple[tuple[float, ...], ...]:
    """The deviation in dB of each string (in the voice's order) and each fret, from 0 on.

    The distribution is uniform over ±√3 times `spread_db`, within STEP_DB of the neighbour, so that
    there are no outliers.
    """
    limit_db = math.sqrt(3.0) * voice.plectrum.spread_db
    frets, strings = voice.neck.frets, voice.strings
    rows: list[list[float]] = []
    for index, string in enumerate(strings):
        random = np.random.default_rng((index, frets))
        fret_on_last_string = string.pitch - 1 - strings[index - 1].pitch if index else -1
        neighbour_db = rows[-1][fret_on_last_string] if 0 <= fret_on_last_string <= frets else None
        row: list[float] = []
        for _ in range(frets + 1):
            low = -limit_db if neighbour_db is None else max(-limit_db, neighbour_db - STEP_DB)
            high = limit_db if neighbour_db is None else min(limit_db, neighbour_db + STEP_DB)
            neighbour_db = float(random.uniform(low, high))
            row.append(neighbour_db)
        rows.append(row)
    return tuple(map(tuple, rows))
