"""All sounds of a voice, made by the model and evened out.

Every string is sampled at a few frets, in both directions of stroke and all levels of force. No
two of them are plucked at quite the same place and angle; of several tries one is kept that speaks
at once. Three things are then evened out, as a maker and a player would: how long notes ring (by
the loss at the fret, and take by take by a loss of all partials alike), how loud they are, how they
are in tune.

Conventions: strings are indices into the voice's list, the highest-numbered first; samples are
floats within ±1 at the layout's rate.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from accomp.voice.laplace import Floats
from accomp.voice.measure import (
    attacks_s,
    centroid_hz,
    cents,
    damping,
    envelope,
    loudness,
    pitch_hz,
)
from accomp.voice.model import Model, evened, pluck, stopped
from accomp.voice.parameters import Voice
from accomp.voice.pluck import Pluck
from accomp.voice.stretch import warp
from accomp.voice.tone import Speaking, knock, mixed, tone

PEAK = 0.95
TRIES = 5  # plucks at another place and angle, before the nearest to what is asked for counts
KNOCKS = (1.0, 1.4, 0.7, 2.0, 0.5, 2.8, 0.35, 4.0, 0.25)  # shares of the knock, in this order
LEVEL = 0.02  # mean square that all sounds are brought to before the loudest peak is fitted

Progress = Callable[[float], None]


@dataclass(frozen=True)
class Take:
    """One sound: what it is, how it sounds, how many cents the player must add."""

    string: int
    fret: int
    force: int
    up: bool
    dead: int | None  # the number of the take of a dead stroke
    data: Floats
    rate_hz: int
    correction_cents: float


def takes(model: Model, progress: Progress | None = None) -> tuple[Take, ...]:
    """Every sound of the voice, in a fixed order. `progress` hears parts done, 0 to 1."""
    voice = model.voice
    jobs = [(index, fret) for index in range(len(voice.strings)) for fret in voice.layout.roots]
    results: list[list[Take]] = []
    with ThreadPoolExecutor(min(2, os.cpu_count() or 1)) as pool:
        for number, result in enumerate(pool.map(lambda job: _ringing(model, *job), jobs), 1):
            results.append(result)
            if progress is not None:
                progress(number / (len(jobs) + 1))
        results += pool.map(lambda index: _dead(model, index), range(len(voice.strings)))
    return _fitted(tuple(take for result in results for take in result))


def _ringing(model: Model, index: int, fret: int) -> list[Take]:
    voice, rate = model.voice, model.grid.rate_hz
    string = evened(model, index, fret)
    wanted = voice.strings[index].frequency_hz * 2.0 ** (fret / 12.0)
    result = []
    hardest = len(voice.plectrum.force) - 1
    for up in (False, True):
        darkest = 0.0
        for force in range(hardest + 1):
            wish = voice.plectrum.brighter * darkest if force == hardest else 0.0
            sound = _played(model, string, (index, fret, force), up, wish)
            darkest = darkest or centroid_hz(sound, rate)
            sound = _damped(sound, rate, voice.decay.at(voice.strings[index].pitch + fret))
            sharp = cents(pitch_hz(sound, rate, wanted), wanted)
            data = _even(_ended(sound, voice), rate)
            data, kept = _thinned(data, rate, voice.plectrum.force[force].thin)
            result.append(Take(index, fret, force, up, None, data, kept, -sharp))
    return result


def _played(
    model: Model, string: Speaking, note: tuple[int, int, int], up: bool, brightness_hz: float
) -> Floats:
    """A stroke as whoever records an instrument would choose it: of some tries, each with more or
    less of a knock, the first that neither swells nor only clicks and has its brightness; when
    none is right, the nearest.
    """
    rate, plectrum = model.grid.rate_hz, model.voice.plectrum
    shortest, longest = plectrum.shortest_ms / 1000.0, plectrum.longest_ms / 1000.0
    tries = []
    tap = knock(model.grid, model.face, pluck(model.voice, string, *note, up=up))
    for again in range(TRIES):
        stroke = pluck(model.voice, string, *note, up=up, again=again)
        sound = _course(model, string, stroke)
        for share in KNOCKS:
            both = mixed(sound, tap, share)
            # With some room: played at another pitch, a second swing as high as the first decides.
            early, late = attacks_s(both, rate, 0.85, 0.96)
            off = max(1.0 - early / shortest, late / longest - 1.0, 0.0)
            if brightness_hz:
                off += max(brightness_hz / centroid_hz(both, rate) - 1.0, 0.0)
            tries.append((off, both))
            if tries[-1][0] == 0.0:
                return both
    return min(tries, key=lambda each: each[0])[1]


def _course(model: Model, string: Speaking, stroke: Pluck) -> Floats:
    """One string, or as many as lie side by side, each a little off in pitch, place and time."""
    sound = tone(string, stroke)
    neck, rate = model.voice.neck, model.grid.rate_hz
    for number in range(1, neck.courses):
        other = replace(
            stroke, at_m=stroke.at_m * (1.0 + 0.04 * number), take=(*stroke.take, number)
        )
        second = tone(string, other)
        sharper = 2.0 ** (neck.course_cents * number / 600.0) - 1.0  # squared, as tension is
        second = warp(second, np.full(second.size, sharper), rate, 0)
        later = round(0.0007 * number * rate)  # the plectrum comes to it that much later
        size = min(second.size, sound.size - later)
        sound[later : later + size] += second[:size]
    return sound


def _dead(model: Model, index: int) -> list[Take]:
    """Strokes on a string that the fretting hand damps: mostly plectrum and head."""
    voice, dead = model.voice, model.voice.dead
    result = []
    for number in range(dead.takes):
        fret = 4 + number  # the hand lies somewhere in the lower half of the neck
        string = stopped(model, index, fret, dead.end_loss, side_loss=1.0)
        for force in range(len(voice.plectrum.force)):
            stroke = pluck(voice, string, index, 100 + number, force, up=bool(number % 2))
            tap, edge = np.random.default_rng(stroke.take).uniform(0.6, 1.6, 2)
            stroke = replace(
                stroke,
                noise_n=stroke.noise_n * dead.noise,
                knock_n=max(stroke.knock_n, 0.05 * stroke.force_n) * dead.knock * tap,
                knock_s=stroke.knock_s * edge,
            )
            sound = mixed(tone(string, stroke), knock(model.grid, model.face, stroke), 1.0)
            length = round(dead.length_ms / 1000.0 * model.grid.rate_hz)
            data = _even(sound[:length] * _fade(length, length // 2), model.grid.rate_hz)
            data *= 10.0 ** (dead.level_db / 20.0)
            result.append(Take(index, 12, force, False, number, data, model.grid.rate_hz, 0.0))
    return result


def _damped(sound: Floats, rate_hz: int, fall_s: float) -> Floats:
    """Falling by 30 dB in the time asked for, whatever the stroke: a uniform loss more or less."""
    rate = damping(sound, rate_hz, 30.0, fall_s)
    return np.asarray(sound * np.exp(-rate * np.arange(sound.size) / rate_hz))


def _ended(sound: Floats, voice: Voice) -> Floats:
    """A sound cut where it has fallen by the layout's `end_db`, and faded out."""
    rate = voice.layout.rate_hz
    fade = round(voice.layout.fade_ms / 1000.0 * rate)
    level = envelope(sound, rate)
    heard = np.flatnonzero(level > level.max() * 10.0 ** (voice.layout.end_db / 20.0))
    end = min(int(heard[-1]) + fade, sound.size - rate // 20)
    return sound[:end] * _fade(end, fade)


def _fade(count: int, fade: int) -> Floats:
    """Ones, and a half cosine down to zero at the end."""
    gains = np.ones(count)
    gains[count - fade :] = 0.5 + 0.5 * np.cos(np.pi * np.arange(1, fade + 1) / fade)
    return gains


def _even(data: Floats, rate_hz: int) -> Floats:
    """Brought to the common loudness, without a step at the start."""
    start = min(16, data.size)
    data = data.copy()
    data[:start] *= np.arange(start) / start
    return np.asarray(data * math.sqrt(LEVEL / loudness(data, rate_hz)))


def _thinned(data: Floats, rate_hz: int, thin: int) -> tuple[Floats, int]:
    """A sound at a whole fraction of its rate, filtered to nine tenths of the new band."""
    if thin == 1:
        return data, rate_hz
    from scipy.signal import firwin, resample_poly

    kernel = firwin(24 * thin + 1, 0.93 / thin, window=("kaiser", 8.0))
    return np.asarray(resample_poly(data, 1, thin, window=kernel)), rate_hz // thin


def _fitted(takes: tuple[Take, ...]) -> tuple[Take, ...]:
    """All turned down by one gain, so that the highest peak fits."""
    gain = PEAK / max(float(np.abs(take.data).max()) for take in takes)
    return tuple(replace(take, data=take.data * gain) for take in takes)
