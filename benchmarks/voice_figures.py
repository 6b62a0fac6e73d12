"""The figures of a banjo voice, note by note, as FluidSynth plays it.

Conventions: strings by the player's number; `force` levels are heard at the velocities VELOCITIES,
one within each, and once more a velocity higher: the other take.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from benchmarks import voice_ear as ear

VELOCITIES = (40, 64, 90, 120)
OPEN = {4: 48, 3: 55, 2: 62, 1: 69}


@dataclass(frozen=True)
class NoteFigures:
    """What one note measures; `cents` from equal temperament, times in seconds: `fall_s` until the
    energy still to come has fallen by 30 dB, `early_s` and `late_s` the time for 60 dB at the slope
    of the first 12 dB and of that from 25 to 38 dB.
    """

    string: int
    key: int
    velocity: int
    cents: float
    repetition_cents: float
    loudness_db: float
    attack_s: float
    fall_s: float
    early_s: float
    late_s: float
    centroid_hz: float
    tail_centroid_hz: float


def bank(variant: int, string: int, *, up: bool = False) -> int:
    """As the voice's README lays them down."""
    return variant + (4 if up else 0) + 8 * string


def note_figures(player: ear.Player, string: int, key: int, velocity: int) -> NoteFigures:
    """Measure one ringing note; string 0 for a plain font."""
    sound = player.note(key, velocity, bank(0, string), held_s=2.9, rest_s=0.1)
    return NoteFigures(
        string=string,
        key=key,
        velocity=velocity,
        cents=ear.cents(ear.pitch_hz(sound, ear.key_hz(key)), ear.key_hz(key)),
        repetition_cents=ear.cents(ear.repetition_hz(sound, ear.key_hz(key)), ear.key_hz(key)),
        loudness_db=ear.loudness_db(sound),
        attack_s=ear.attack_s(sound),
        fall_s=ear.decay_s(sound, 30.0),
        early_s=ear.reverberation_s(sound, -0.5, -12.0),
        late_s=ear.reverberation_s(sound, -25.0, -38.0),
        centroid_hz=ear.centroid_hz(sound),
        tail_centroid_hz=ear.centroid_hz(sound, 0.3, 0.2),
    )


def all_figures(
    player: ear.Player, frets: Iterable[int], *, plain: bool = False
) -> list[NoteFigures]:
    """All strings at these frets, all forces, both takes of the third."""
    return [
        note_figures(player, 0 if plain else string, key + fret, velocity)
        for string, key in OPEN.items()
        for fret in frets
        for velocity in (*VELOCITIES, 91)
    ]


def wanted_fall_s(key: int) -> float:
    """1.06 s at C3, 0.52 s at A5, a straight line of log time between."""
    return float(1.06 * (0.52 / 1.06) ** ((key - 48) / 33))


def choke_s(player: ear.Player, string: int, key: int, velocity: int, variant: int = 1) -> float:
    """Time from release to 60 dB below the level at release."""
    stroke = ear.Stroke(0.0, 0.12, key, velocity, bank(variant, string))
    level = ear.envelope(player.play([stroke], 3.5), 0.005)
    release = round(0.12 * ear.RATE_HZ)
    before = level[release - 240 : release + 240].max()
    above = np.flatnonzero(level[release:] > before * 1e-3)
    return float(above[-1] + 1) / ear.RATE_HZ if above.size else 0.0


def click_db(player: ear.Player, string: int, key: int, velocity: int) -> float:
    """How far the sound above 6 kHz rises in the 20 ms after a choke, over the 30 ms before."""
    from scipy.signal import butter, sosfilt

    stroke = ear.Stroke(0.0, 0.12, key, velocity, bank(1, string))
    treble = butter(4, 6000, "high", fs=ear.RATE_HZ, output="sos")
    level = ear.envelope(sosfilt(treble, player.play([stroke], 0.4)), 0.002)
    release = round(0.12 * ear.RATE_HZ)
    after, before = (
        level[release : release + 960].max(),
        level[release - 1440 : release - 100].max(),
    )
    return float(20 * np.log10(after / before))


def dead_s(player: ear.Player, string: int, key: int, velocity: int) -> float:
    """Time from the start until a dead stroke is 60 dB below its loudest moment for good."""
    level = ear.envelope(player.note(key, velocity, bank(2, string), held_s=0.3), 0.003)
    return float(np.flatnonzero(level > level.max() * 1e-3)[-1]) / ear.RATE_HZ


def clarity(sound: ear.Sound) -> float:
    """How much 60 ms repeat: the best normalised autocorrelation from 80 to 1000 Hz."""
    part = sound[: round(0.06 * ear.RATE_HZ)]
    lags = range(round(ear.RATE_HZ / 1000), round(ear.RATE_HZ / 80))
    likeness = [
        float(part[:-lag] @ part[lag:])
        / np.sqrt(float(part[:-lag] @ part[:-lag]) * float(part[lag:] @ part[lag:]) + 1e-20)
        for lag in lags
    ]
    return max(likeness)


def choked_bar(
    tempo_bpm: float = 180.0, beats: int = 8, *, plain: bool = False
) -> list[ear.Stroke]:
    """Strums of F over four strings, 8 ms apart, let go after 130 ms."""
    strokes = []
    for beat in range(beats):
        start = beat * 60 / tempo_bpm
        for channel, (string, key) in enumerate(((4, 53), (3, 57), (2, 65), (1, 69))):
            place = 1 if plain else bank(1, string)
            at = start + 0.008 * channel
            strokes.append(ear.Stroke(at, start + 0.13, key, 90 + beat % 2, place, channel))
    return strokes


def before_next_db(sound: ear.Sound, tempo_bpm: float = 180.0) -> float:
    """Loudest moment of the last 10 ms before a next stroke, under the loudest of all."""
    level = ear.envelope(sound, 0.005)
    beat = 60 / tempo_bpm * ear.RATE_HZ
    worst = max(
        level[round(n * beat) - 720 : round(n * beat) - 240].max()
        for n in range(1, round(sound.size / beat))
    )
    return float(20 * np.log10(worst / level.max()))
