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
    Start,
    centroid_hz,
    cents,
    damping,
    envelope,
    loudness,
    pitch_hz,
    starts,
)
from accomp.voice.model import Model, StruckNote, evened, pluck, stopped
from accomp.voice.numerics import low_pass, thinned
from accomp.voice.parameters import Plectrum, Voice
from accomp.voice.pluck import Pluck
from accomp.voice.stretch import warp
from accomp.voice.tone import Speaking, Swings, knock, mixed, swings, tone

PEAK = 0.95
TRIES = 2  # plucks at another place, before the nearest to what is asked for counts
TURNS_DEG = (0.0, -3.0, 3.0, -6.0, 6.0)  # what each is turned by, in this order
KNOCKS = (1.0, 1.4, 0.7, 2.0, 0.5, 2.8, 0.35, 4.0, 0.25)  # shares of the knock, in this order
HIGHS = (0.85, 0.96)  # parts of the highest point; nine tenths lie between
UNEVEN_DB = 0.75  # takes of any two roots may be neighbours, and another pitch adds up to 1 dB
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
            sound = _played(model, string, StruckNote(index, fret, force, up), wish)
            darkest = darkest or centroid_hz(sound, rate)
            sound = damped(sound, rate, voice.decay.at(voice.strings[index].pitch + fret))
            sharp = cents(pitch_hz(sound, rate, wanted), wanted)
            data = _even(ended(sound, voice), rate)
            data *= 10.0 ** (unevenness_db(voice, index, fret) / 20.0)
            data, kept = _thinned(data, rate, voice.plectrum.force[force].thin)
            result.append(Take(index, fret, force, up, None, data, kept, -sharp))
    return result


def _played(model: Model, string: Speaking, note: StruckNote, brightness_hz: float) -> Floats:
    """A stroke as whoever records an instrument would choose it: of some tries at other places,
    each at other angles and with more or less of a knock, the first that begins and is as bright
    as asked for; when none is right, the nearest.
    """
    rate, plectrum = model.grid.rate_hz, model.voice.plectrum
    best, nearest = math.inf, None
    tap = knock(model.grid, model.face, pluck(model.voice, string, note))
    for again in range(TRIES):
        stroke = pluck(model.voice, string, note, again)
        parts = _course(model, string, stroke)
        for turn in TURNS_DEG:
            turned = replace(stroke, angle_deg=stroke.angle_deg + turn)
            sound = parts.towards(turned)
            for share, start in zip(KNOCKS, starts(sound, tap, rate, KNOCKS, HIGHS), strict=True):
                off = _astray(start, plectrum)
                if brightness_hz and off < best:
                    bright = centroid_hz(mixed(sound, tap, share), rate)
                    off += max(brightness_hz / bright - 1.0, 0.0)
                if off < best:
                    best, nearest = off, (sound, share)
                if best == 0.0:
                    return mixed(sound, tap, share)
    assert nearest is not None
    return mixed(nearest[0], tap, nearest[1])


def _astray(start: Start, plectrum: Plectrum) -> float:
    """How far a start lies outside of what is asked for, 0 within it."""
    # With some room: played at another pitch, a second swing as high as the first decides.
    return (
        _outside(start.attacks_s, plectrum.shortest_ms, plectrum.longest_ms)
        + _outside(start.peaks_s, plectrum.soonest_ms, plectrum.latest_ms)
        + max(start.crest_db - plectrum.crest_db, 0.0) / 3.0
    )


def _outside(times_s: tuple[float, ...], least_ms: float, most_ms: float) -> float:
    """How far the first of two times comes too early or the last too late, as a share."""
    first, last = (time * 1000.0 for time in times_s)
    early = 1.0 - first / least_ms if least_ms else 0.0
    return max(early, last / most_ms - 1.0, 0.0)


def _course(model: Model, string: Speaking, stroke: Pluck) -> Swings:
    """One string, or as many as lie side by side, each a little off in pitch, place and time."""
    sum_ = swings(string, stroke)
    neck, rate = model.voice.neck, model.grid.rate_hz
    for number in range(1, neck.courses):
        other = replace(
            stroke, at_m=stroke.at_m * (1.0 + 0.04 * number), take=(*stroke.take, number)
        )
        second = swings(string, other)
        sharper = 2.0 ** (neck.course_cents * number / 600.0) - 1.0  # squared, as tension is
        later = round(0.0007 * number * rate)  # the plectrum comes to it that much later

        def both(one: Floats, two: Floats, sharper: float = sharper, later: int = later) -> Floats:
            two = warp(two, np.full(two.size, sharper), rate, 0)
            size = min(two.size, one.size - later)
            return np.concatenate((one[:later], one[later : later + size] + two[:size]))

        sum_ = Swings(
            both(sum_.level, second.level),
            both(sum_.vertical, second.vertical),
            both(sum_.rest, second.rest),
        )
    return sum_


def unevenness_db(voice: Voice, index: int, fret: int) -> float:
    """How much louder or softer than even a note is, as on an instrument some notes are: drawn once
    for each root of a string, and nowhere more than UNEVEN_DB, so that no two are far apart.
    """
    roots = voice.layout.roots
    row = np.random.default_rng((index, len(roots))).normal(
        0.0, voice.plectrum.spread_db, len(roots)
    )
    return min(max(float(row[roots.index(fret)]), -UNEVEN_DB), UNEVEN_DB)


def _dead(model: Model, index: int) -> list[Take]:
    """Strokes on a string that the fretting hand damps: mostly plectrum and head."""
    voice, dead = model.voice, model.voice.dead
    result = []
    for number in range(dead.takes):
        fret = 4 + number  # the hand lies somewhere in the lower half of the neck
        string = stopped(model, index, fret, dead.end_loss, side_loss=1.0)
        for force in range(len(voice.plectrum.force)):
            # A number past all frets: what differs from stroke to stroke is drawn anew.
            note = StruckNote(index, 100 + number, force, up=bool(number % 2))
            stroke = pluck(voice, string, note)
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


def damped(sound: Floats, rate_hz: int, fall_s: float) -> Floats:
    """Falling by 30 dB in the time asked for, whatever the stroke: a uniform loss more or less."""
    rate = damping(sound, rate_hz, 30.0, fall_s)
    return np.asarray(sound * np.exp(-rate * np.arange(sound.size) / rate_hz))


def ended(sound: Floats, voice: Voice) -> Floats:
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
    return thinned(data, low_pass(24 * thin + 1, 0.93 / thin, 8.0), thin), rate_hz // thin


def _fitted(takes: tuple[Take, ...]) -> tuple[Take, ...]:
    """All turned down by one gain, so that the highest peak fits."""
    gain = PEAK / max(float(np.abs(take.data).max()) for take in takes)
    return tuple(replace(take, data=take.data * gain) for take in takes)
