"""The upright bass: the model of the plucked voices, plucked with a finger. Every note is played on
the string that has it at the lowest fret.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from accomp.files.data import package_file
from accomp.voice.kit.sounds import levelled
from accomp.voice.laplace import Floats
from accomp.voice.model import Model, StruckNote, model, pluck, stopped
from accomp.voice.parameters import Voice
from accomp.voice.reader import read_voice
from accomp.voice.sampling import damped, ended
from accomp.voice.tone import knock, mixed, tone

COMB_SIZE = 2**19


@dataclass(frozen=True)
class BassRecording:
    """One sample: its own key, and the ranges of keys and velocities that it plays."""

    key: int
    keys: tuple[int, int]
    velocities: tuple[int, int]
    data: Floats
    rate_hz: int
    correction_cents: float


def read_bass() -> Voice:
    """The parameters of the bass, which are part of the program."""
    return read_voice(package_file("upright-bass.toml"))


def bass_notes(voice: Voice, level_db: float) -> tuple[BassRecording, ...]:
    """Every sample of the bass, from low to high and soft to hard, at a K-weighted `level_db`."""
    ready = model(voice)
    lows = [0]  # each root plays up to halfway to the next
    roots = _roots(voice)
    for (_, _, here), (_, _, there) in itertools.pairwise(roots):
        lows.append((here + there + 1) // 2)
    highs = [*(low - 1 for low in lows[1:]), 127]
    notes: list[BassRecording] = []
    for (index, fret, key), keys in zip(roots, zip(lows, highs, strict=True), strict=True):
        softest = 0
        for force, level in enumerate(voice.plectrum.force):
            data, correction = _note(ready, StruckNote(index, fret, force), key)
            data = levelled(data, voice.layout.rate_hz, level_db)
            velocities = (softest, level.up_to)
            softest = level.up_to + 1
            notes.append(
                BassRecording(key, keys, velocities, data, voice.layout.rate_hz, correction)
            )
    return tuple(notes)


def _roots(voice: Voice) -> list[tuple[int, int, int]]:
    """String, fret and key of each sampled note; every key occurs once."""
    opens = [string.pitch for string in voice.strings]
    return [
        (index, fret, opens[index] + fret)
        for index in range(len(opens))
        for fret in voice.layout.roots
        if index + 1 == len(opens) or opens[index] + fret + 1 < opens[index + 1]
    ]


def _note(ready: Model, note: StruckNote, key: int) -> tuple[Floats, float]:
    """A note with the wanted decay, and the cents to add to its pitch."""
    voice, rate = ready.voice, ready.grid.rate_hz
    string = stopped(ready, note.index, note.fret, voice.neck.end_loss)
    stroke = pluck(voice, string, note)
    sound = mixed(tone(string, stroke), knock(ready.grid, ready.face, stroke), 1.0)
    sound = damped(sound, rate, voice.decay.at(key))
    wanted = 440.0 * math.pow(2.0, (key - 69) / 12.0)
    return ended(sound, voice), -off_cents(sound, rate, wanted)


def off_cents(sound: Floats, rate_hz: int, wanted_hz: float) -> float:
    """A note's deviation from the wanted pitch in cents, in steps of half a cent: the fundamental
    whose partials 1 to 6 have most power between 0.1 and 0.9 s.

    The partials of a bass lie too close together to search for each one's peak.
    """
    part = sound[round(0.1 * rate_hz) : round(0.9 * rate_hz)]
    power = np.abs(np.fft.rfft(part * np.hanning(part.size), COMB_SIZE)) ** 2
    off = np.arange(-50.0, 50.5, 0.5)
    teeth = np.arange(1, 7)[:, None] * wanted_hz * 2.0 ** (off / 1200.0)
    found = power[np.round(teeth * COMB_SIZE / rate_hz).astype(int)].sum(axis=0)
    return float(off[found.argmax()])
