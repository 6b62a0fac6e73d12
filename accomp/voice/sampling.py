"""All sounds of a voice, made by the model and evened out.

Every string is sampled at a few frets, in both directions of stroke and all levels of force. No
two of them are plucked at quite the same place and angle; of several tries one is kept that begins
as asked for on every fret that it is played for. Three things are then evened out, as a maker and a
player would: how long notes ring (by the loss at the fret, and take by take by a loss of all
partials alike), and fret by fret how loud they are (up to `accomp.voice.uneven`) and in tune.

Conventions: strings are indices into the voice's list, the highest-numbered first; samples are
floats within ±1 at the layout's rate.
"""

from __future__ import annotations

import itertools
import math
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from accomp.voice.laplace import Floats
from accomp.voice.measure import (
    BLOCK_S,
    centroid_hz,
    cents,
    damping,
    envelope,
    loudness,
    pitch_hz,
)
from accomp.voice.model import Model, StruckNote, evened, pluck, stopped
from accomp.voice.numerics import low_pass, thinned
from accomp.voice.parameters import Plectrum, Voice
from accomp.voice.pluck import Pluck
from accomp.voice.starts import Parts, PartsSum, Start, heard
from accomp.voice.stretch import warp
from accomp.voice.tone import BridgedString, Swings, knock, mixed, swings, tone
from accomp.voice.uneven import unevenness_db

PEAK = 0.95
TRIES = 2  # plucks at another place, before the nearest to what is asked for counts
HOPELESS = 0.3  # further off, another place does not help: the note itself falls too fast
# What each is turned by, in this order: steeper above zero, flatter below.
TURNS_DEG = (0.0, -4.0, 4.0, -8.0, 8.0, -12.0, -16.0, -20.0)
LATER_MS = (0.0, 1.2, -1.2)  # when the tip hits the face, from when it is expected to
KNOCKS = (1.0, 1.4, 0.7, 2.0, 0.5, 2.8, 0.35, 4.0, 0.25)  # shares of the knock, in this order
LEVEL = 0.02  # mean square that all sounds are brought to before the loudest peak is fitted

Progress = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class FretCorrection:
    """What a take needs at a fret that it is played for: decibels less, never below zero, and cents
    more, beside what its own fret needs."""

    fret: int
    softer_db: float
    sharper_cents: float


@dataclass(frozen=True)
class Take:
    """One sound: what it is, how it sounds, how many cents the player must add, what it needs at
    each fret that it is played for."""

    string: int
    fret: int
    force: int
    up: bool
    dead: int | None  # the number of the take of a dead stroke
    data: Floats
    rate_hz: int
    correction_cents: float
    fits: tuple[FretCorrection, ...] = ()


def nearest(voice: Voice, fret: int) -> tuple[int, int]:
    """The sampled frets whose takes are played at a fret: the nearest, and the next nearest."""
    roots = sorted(voice.layout.roots, key=lambda root: (abs(root - fret), -root))
    return roots[0], roots[min(1, len(roots) - 1)]


def takes(model: Model, progress: Progress | None = None) -> tuple[Take, ...]:
    """Every sound of the voice, in a fixed order. `progress` hears parts done, 0 to 1."""
    voice = model.voice
    jobs = [(index, fret) for index in range(len(voice.strings)) for fret in voice.layout.roots]
    results: list[list[Take]] = []
    with ThreadPoolExecutor(min(2, os.cpu_count() or 1)) as pool:
        ringing = pool.map(lambda job: _ringing(model, *job), jobs)
        dead = pool.map(lambda index: _dead(model, index), range(len(voice.strings)))
        for number, result in enumerate(ringing, 1):
            results.append(result)
            if progress is not None:
                progress(number / (len(jobs) + 1))
        results += dead
    return _fitted(tuple(take for result in results for take in result))


def _ringing(model: Model, index: int, fret: int) -> list[Take]:
    voice, rate = model.voice, model.grid.rate_hz
    string = evened(model, index, fret)
    result = []
    hardest = len(voice.plectrum.force) - 1
    for up in (False, True):
        darkest = 0.0
        for force in range(hardest + 1):
            wish = voice.plectrum.brighter * darkest if force == hardest else 0.0
            sound = _played(model, string, StruckNote(index, fret, force, up), wish)
            darkest = darkest or centroid_hz(sound, rate)
            sound = damped(sound, rate, voice.decay.at(voice.strings[index].pitch + fret))
            data = _begun(ended(sound, voice))
            data, kept = _thinned(data, rate, voice.plectrum.force[force].thin)
            result.append(
                fitted_to_frets(voice, Take(index, fret, force, up, None, data, kept, 0.0))
            )
    return result


def fitted_to_frets(voice: Voice, take: Take) -> Take:
    """A take with what each fret that plays it needs, to be in tune and as loud as that fret is."""
    string = voice.strings[take.string]
    uneven = unevenness_db(voice)[take.string]
    louder, sharper = {}, {}
    for fret in range(voice.neck.frets + 1):
        if take.fret in nearest(voice, fret):
            rate_hz = take.rate_hz * 2.0 ** ((fret - take.fret) / 12.0)  # as it is played there
            level = 10.0 * math.log10(loudness(take.data, rate_hz, BLOCK_S) / LEVEL)
            louder[fret] = uneven[fret] - level
            wanted_hz = string.frequency_hz * 2.0 ** (fret / 12.0)
            sharper[fret] = -cents(pitch_hz(take.data, rate_hz, wanted_hz), wanted_hz)
    loudest, own = max(louder.values()), sharper.get(take.fret, 0.0)
    return replace(
        take,
        data=take.data * 10.0 ** (loudest / 20.0),
        correction_cents=own,
        fits=tuple(
            FretCorrection(fret, loudest - louder[fret], sharper[fret] - own) for fret in louder
        ),
    )


def _played(model: Model, string: BridgedString, note: StruckNote, wish_hz: float) -> Floats:
    """A stroke as whoever records an instrument would choose it: of some tries at other places,
    each at other angles and with more or less of a knock a little earlier or later, the first that
    begins, on every fret that will play it, and is as bright as asked for; when none is right, the
    nearest.
    """
    voice, rate = model.voice, model.grid.rate_hz
    tap = model.tap(pluck(voice, string, note))
    taps = [_later(tap, round(later / 1000.0 * rate)) for later in LATER_MS]
    best, found = math.inf, None
    for again in range(TRIES):
        stroke = pluck(voice, string, note, again)
        parts = _course(model, string, stroke)
        ear = _heard(model, note, parts, stroke, taps)
        side = math.copysign(1.0, stroke.angle_deg)
        turns = [replace(stroke, angle_deg=stroke.angle_deg + side * turn) for turn in TURNS_DEG]
        for turned in turns:
            parts_sum = ear.parts_sum((turned.level_n, turned.vertical_n, 1.0))
            rough = [
                _roughly(parts_sum, number, voice.plectrum, wish_hz) for number in range(len(taps))
            ]
            for number, share in itertools.product(range(len(taps)), KNOCKS):
                if rough[number][share] > best:
                    continue
                start = parts_sum.start(
                    [share if each == number else 0.0 for each in range(len(taps))]
                )
                off = _astray(start, voice.plectrum)
                off += max(wish_hz / start.centroid_hz - 1.0, 0.0)
                if off < best:
                    best, found = off, (parts, turned, taps[number], share)
                if best == 0.0:
                    break
            if best == 0.0:
                break
        if best == 0.0 or best > HOPELESS:
            break
    assert found is not None, "any start is nearer than none"
    parts, turned, tap, share = found
    return mixed(parts.towards(turned), tap, share)


def _heard(
    model: Model, note: StruckNote, swings: Swings, stroke: Pluck, taps: Sequence[Floats]
) -> Parts:
    """A stroke's parts as they are heard on the fastest of the frets that have the note nearest:
    dying away as the stroke itself will be made to.
    """
    voice, rate = model.voice, model.grid.rate_hz
    fall_s = voice.decay.at(voice.strings[note.index].pitch + note.fret)
    loss = damping(mixed(swings.towards(stroke), taps[0], 1.0), rate, 30.0, fall_s)
    count = round(2.0 * BLOCK_S * rate)
    dying = np.exp(-loss / rate * np.arange(count))
    sounds = [
        sound[:count] * dying[: sound.size]
        for sound in (swings.level, swings.vertical, swings.rest, *taps)
    ]
    frets = [fret for fret in range(voice.neck.frets + 1) if nearest(voice, fret)[0] == note.fret]
    lowest, highest = (2.0 ** ((fret - note.fret) / 12.0) for fret in (min(frets), max(frets)))
    hz = voice.strings[note.index].frequency_hz * 2.0 ** (max(frets) / 12.0)
    return heard(sounds, rate * highest, hz, lowest / highest)


def _astray(start: Start, plectrum: Plectrum) -> float:
    """How far a start lies outside of what is asked for, 0 within it."""
    return (
        _outside(start.attacks_s, plectrum.shortest_ms, plectrum.longest_ms)
        + _outside(start.peaks_s, plectrum.soonest_ms, plectrum.latest_ms)
        + max(start.crest_db - plectrum.crest_db, 0.0) / 3.0
    )


def _roughly(
    parts_sum: PartsSum, number: int, plectrum: Plectrum, wish_hz: float
) -> dict[float, float]:
    """How far astray the starts with more or less of one knock are at least, by its share; a trace
    less, since rounding must not decide."""
    crests_db, centroids_hz = parts_sum.glance(number, np.array(KNOCKS))
    high = np.maximum(crests_db - plectrum.crest_db, 0.0) / 3.0
    least = high + np.maximum(wish_hz / centroids_hz - 1.0, 0.0)
    return dict(zip(KNOCKS, (least - 1e-6).tolist(), strict=True))


def _later(sound: Floats, samples: int) -> Floats:
    """A sound so many samples later, or earlier below zero, as long as before."""
    pad = np.zeros(abs(samples))
    if samples < 0:
        return np.concatenate((sound[-samples:], pad))
    return np.concatenate((pad, sound))[: sound.size]


def _outside(times_s: tuple[float, ...], least_ms: float, most_ms: float) -> float:
    """How far the first of two times comes too early or the last too late, as a share."""
    first, last = (time * 1000.0 for time in times_s)
    early = 1.0 - first / least_ms if least_ms else 0.0
    return max(early, last / most_ms - 1.0, 0.0)


def _course(model: Model, string: BridgedString, stroke: Pluck) -> Swings:
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
            two = warp(two, np.full(two.size, sharper), 0)
            size = min(two.size, one.size - later)
            return np.concatenate((one[:later], one[later : later + size] + two[:size]))

        sum_ = Swings(
            both(sum_.level, second.level),
            both(sum_.vertical, second.vertical),
            both(sum_.rest, second.rest),
        )
    return sum_


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
            data = _begun(sound[:length] * _fade(length, length // 2))
            data = _even(data, model.grid.rate_hz)
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


def _begun(data: Floats) -> Floats:
    """Without a step at the start."""
    start = min(16, data.size)
    data = data.copy()
    data[:start] *= np.arange(start) / start
    return data


def _even(data: Floats, rate_hz: int) -> Floats:
    """Brought to the common loudness."""
    return np.asarray(data * math.sqrt(LEVEL / loudness(data, rate_hz, BLOCK_S)))


def _thinned(data: Floats, rate_hz: int, thin: int) -> tuple[Floats, int]:
    """A sound at a whole fraction of its rate, filtered to nine tenths of the new band."""
    if thin == 1:
        return data, rate_hz
    return thinned(data, low_pass(24 * thin + 1, 0.93 / thin, 8.0), thin), rate_hz // thin


def _fitted(takes: tuple[Take, ...]) -> tuple[Take, ...]:
    """All turned down by one gain, so that the highest peak fits."""
    gain = PEAK / max(float(np.abs(take.data).max()) for take in takes)
    return tuple(replace(take, data=take.data * gain) for take in takes)
