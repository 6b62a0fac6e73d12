"""All samples of a voice, computed by the model and evened out.

Every string is sampled at a few frets, in both directions of stroke and at all levels of force. No
two samples are plucked at quite the same place and angle. Of several tries the one is kept whose
start is as wanted on every fret that plays it. Then decay, loudness and pitch are evened out: the
decay by the loss at the fret, and in each take by a loss that is equal for all partials; loudness
(but for `accomp.voice.uneven`) and pitch fret by fret.

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
TRIES = 2  # plucking places to try before the best start so far is taken
HOPELESS = 0.3  # worse than this, another place does not help: the note itself falls too fast
# Changes of the stroke's angle in the order of trying: steeper above zero, flatter below.
TURNS_DEG = (0.0, -4.0, 4.0, -8.0, 8.0, -12.0, -16.0, -20.0)
LATER_MS = (0.0, 1.2, -1.2)  # delays of the knock to try
KNOCKS = (1.0, 1.4, 0.7, 2.0, 0.5, 2.8, 0.35, 4.0, 0.25)  # gains of the knock to try
LEVEL = 0.02  # common K-weighted mean square of all sounds, before one gain scales them to PEAK

Progress = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class FretCorrection:
    """Corrections of a take at a fret that plays it: attenuation in dB, at least 0, and cents to
    add to the take's own correction.
    """

    fret: int
    softer_db: float
    sharper_cents: float


@dataclass(frozen=True)
class Take:
    """One sample, its tuning correction at its own fret, and corrections at those that play it."""

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
    """The two sampled frets whose takes a fret plays: the nearest and the next nearest."""
    roots = sorted(voice.layout.roots, key=lambda root: (abs(root - fret), -root))
    return roots[0], roots[min(1, len(roots) - 1)]


def takes(model: Model, progress: Progress | None = None) -> tuple[Take, ...]:
    """All samples, in a fixed order. `progress` is called with the part done, 0 to 1."""
    voice = model.voice
    jobs = [(index, fret) for index in range(len(voice.strings)) for fret in voice.layout.roots]
    results: list[list[Take]] = []
    with ThreadPoolExecutor(min(2, os.cpu_count() or 1)) as pool:
        ringing = pool.map(lambda job: _ringing_takes(model, *job), jobs)
        dead = pool.map(lambda index: _dead_takes(model, index), range(len(voice.strings)))
        for number, result in enumerate(ringing, 1):
            results.append(result)
            if progress is not None:
                progress(number / (len(jobs) + 1))
        results += dead
    return _scaled_to_peak(tuple(take for result in results for take in result))


def _ringing_takes(model: Model, index: int, fret: int) -> list[Take]:
    voice, rate = model.voice, model.grid.rate_hz
    string = evened(model, index, fret)
    result = []
    hardest = len(voice.plectrum.force) - 1
    for up in (False, True):
        darkest = 0.0
        for force in range(hardest + 1):
            wanted_hz = voice.plectrum.brighter * darkest if force == hardest else 0.0
            sound = _best_stroke(model, string, StruckNote(index, fret, force, up), wanted_hz)
            darkest = darkest or centroid_hz(sound, rate)
            sound = damped(sound, rate, voice.decay.at(voice.strings[index].pitch + fret))
            data = _faded_in(ended(sound, voice))
            data, kept_rate_hz = _decimated(data, rate, voice.plectrum.force[force].thin)
            result.append(
                fitted_to_frets(voice, Take(index, fret, force, up, None, data, kept_rate_hz, 0.0))
            )
    return result


def fitted_to_frets(voice: Voice, take: Take) -> Take:
    """A take with its corrections of pitch and loudness for each fret that plays it."""
    string = voice.strings[take.string]
    uneven = unevenness_db(voice)[take.string]
    gains_db, sharper = {}, {}
    for fret in range(voice.neck.frets + 1):
        if take.fret in nearest(voice, fret):
            rate_hz = take.rate_hz * 2.0 ** ((fret - take.fret) / 12.0)  # of playback at this fret
            level = 10.0 * math.log10(loudness(take.data, rate_hz, BLOCK_S) / LEVEL)
            gains_db[fret] = uneven[fret] - level
            wanted_hz = string.frequency_hz * 2.0 ** (fret / 12.0)
            sharper[fret] = -cents(pitch_hz(take.data, rate_hz, wanted_hz), wanted_hz)
    highest_gain_db, own_cents = max(gains_db.values()), sharper.get(take.fret, 0.0)
    return replace(
        take,
        data=take.data * 10.0 ** (highest_gain_db / 20.0),
        correction_cents=own_cents,
        fits=tuple(
            FretCorrection(fret, highest_gain_db - gains_db[fret], sharper[fret] - own_cents)
            for fret in gains_db
        ),
    )


def _best_stroke(model: Model, string: BridgedString, note: StruckNote, wish_hz: float) -> Floats:
    """The first stroke whose start and brightness are as wanted on every fret that plays it, or
    else the nearest to this.

    The tries differ in place, angle, and gain and delay of the knock. `wish_hz` is the least
    spectral centroid, 0 for any.
    """
    voice, rate = model.voice, model.grid.rate_hz
    tap = model.tap(pluck(voice, string, note))
    taps = [_delayed(tap, round(later / 1000.0 * rate)) for later in LATER_MS]
    least, found = math.inf, None
    for again in range(TRIES):
        stroke = pluck(voice, string, note, again)
        parts = _course_swings(model, string, stroke)
        analysed = _parts_heard(model, note, parts, stroke, taps)
        side = math.copysign(1.0, stroke.angle_deg)
        turns = [replace(stroke, angle_deg=stroke.angle_deg + side * turn) for turn in TURNS_DEG]
        for turned in turns:
            parts_sum = analysed.parts_sum((turned.level_n, turned.vertical_n, 1.0))
            lower_bounds = [
                _least_distances(parts_sum, number, voice.plectrum, wish_hz)
                for number in range(len(taps))
            ]
            for number, share in itertools.product(range(len(taps)), KNOCKS):
                if lower_bounds[number][share] > least:
                    continue
                start = parts_sum.start(
                    [share if each == number else 0.0 for each in range(len(taps))]
                )
                distance = _distance(start, voice.plectrum)
                distance += max(wish_hz / start.centroid_hz - 1.0, 0.0)
                if distance < least:
                    least, found = distance, (parts, turned, taps[number], share)
                if least == 0.0:
                    break
            if least == 0.0:
                break
        if least == 0.0 or least > HOPELESS:
            break
    assert found is not None, "any start is nearer than none"
    parts, turned, tap, share = found
    return mixed(parts.towards(turned), tap, share)


def _parts_heard(
    model: Model, note: StruckNote, swings: Swings, stroke: Pluck, taps: Sequence[Floats]
) -> Parts:
    """A stroke's parts, damped as it will be, at the rate of the highest fret that plays it."""
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


def _distance(start: Start, plectrum: Plectrum) -> float:
    """A start's distance from the wanted ranges: the sum of relative errors, 0 within them."""
    return (
        _outside(start.attacks_s, plectrum.shortest_ms, plectrum.longest_ms)
        + _outside(start.peaks_s, plectrum.soonest_ms, plectrum.latest_ms)
        + max(start.crest_db - plectrum.crest_db, 0.0) / 3.0
    )


def _least_distances(
    parts_sum: PartsSum, number: int, plectrum: Plectrum, wish_hz: float
) -> dict[float, float]:
    """For each gain of one knock, a lower bound of the distance of its start, lowered by a trace so
    that rounding does not decide.
    """
    crests_db, centroids_hz = parts_sum.glance(number, np.array(KNOCKS))
    high = np.maximum(crests_db - plectrum.crest_db, 0.0) / 3.0
    least = high + np.maximum(wish_hz / centroids_hz - 1.0, 0.0)
    return dict(zip(KNOCKS, (least - 1e-6).tolist(), strict=True))


def _delayed(sound: Floats, samples: int) -> Floats:
    """A sound delayed by `samples` (advanced if negative), of the same length."""
    pad = np.zeros(abs(samples))
    if samples < 0:
        return np.concatenate((sound[-samples:], pad))
    return np.concatenate((pad, sound))[: sound.size]


def _outside(times_s: tuple[float, ...], least_ms: float, most_ms: float) -> float:
    """The relative error of two times against a range: the first too early or the last too late."""
    first, last = (time * 1000.0 for time in times_s)
    early = 1.0 - first / least_ms if least_ms else 0.0
    return max(early, last / most_ms - 1.0, 0.0)


def _course_swings(model: Model, string: BridgedString, stroke: Pluck) -> Swings:
    """The swings of all strings of a course; they differ a little in pitch, place and time."""
    total = swings(string, stroke)
    neck, rate = model.voice.neck, model.grid.rate_hz
    for number in range(1, neck.courses):
        other = replace(
            stroke, at_m=stroke.at_m * (1.0 + 0.04 * number), take=(*stroke.take, number)
        )
        second = swings(string, other)
        sharper = 2.0 ** (neck.course_cents * number / 600.0) - 1.0  # of the tension, so squared
        later = round(0.0007 * number * rate)  # the plectrum reaches the next string later

        def both(one: Floats, two: Floats, sharper: float = sharper, later: int = later) -> Floats:
            two = warp(two, np.full(two.size, sharper), 0)
            size = min(two.size, one.size - later)
            return np.concatenate((one[:later], one[later : later + size] + two[:size]))

        total = Swings(
            both(total.level, second.level),
            both(total.vertical, second.vertical),
            both(total.rest, second.rest),
        )
    return total


def _dead_takes(model: Model, index: int) -> list[Take]:
    """Strokes on a string that the fretting hand damps: mostly noise of plectrum and head."""
    voice, dead = model.voice, model.voice.dead
    result = []
    for number in range(dead.takes):
        fret = 4 + number  # the hand damps in the lower half of the neck
        string = stopped(model, index, fret, dead.end_loss, side_loss=1.0)
        for force in range(len(voice.plectrum.force)):
            # A fret number beyond the neck gives a seed of its own to each dead stroke.
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
            data = _faded_in(sound[:length] * _fade_out_gains(length, length // 2))
            data = _at_common_loudness(data, model.grid.rate_hz)
            data *= 10.0 ** (dead.level_db / 20.0)
            result.append(Take(index, 12, force, False, number, data, model.grid.rate_hz, 0.0))
    return result


def damped(sound: Floats, rate_hz: int, fall_s: float) -> Floats:
    """The sound with a uniform loss, or gain, that makes it fall by 30 dB in `fall_s`."""
    rate = damping(sound, rate_hz, 30.0, fall_s)
    return np.asarray(sound * np.exp(-rate * np.arange(sound.size) / rate_hz))


def ended(sound: Floats, voice: Voice) -> Floats:
    """A sound faded out and cut where its envelope has fallen by the layout's `end_db`."""
    rate = voice.layout.rate_hz
    fade = round(voice.layout.fade_ms / 1000.0 * rate)
    level = envelope(sound, rate)
    heard = np.flatnonzero(level > level.max() * 10.0 ** (voice.layout.end_db / 20.0))
    end = min(int(heard[-1]) + fade, sound.size - rate // 20)
    return sound[:end] * _fade_out_gains(end, fade)


def _fade_out_gains(count: int, fade: int) -> Floats:
    """Gains for `count` samples: 1, then half a cosine down to 0 over the last `fade`."""
    gains = np.ones(count)
    gains[count - fade :] = 0.5 + 0.5 * np.cos(np.pi * np.arange(1, fade + 1) / fade)
    return gains


def _faded_in(data: Floats) -> Floats:
    """The sound with a short fade-in."""
    start = min(16, data.size)
    data = data.copy()
    data[:start] *= np.arange(start) / start
    return data


def _at_common_loudness(data: Floats, rate_hz: int) -> Floats:
    """The sound at the common loudness, LEVEL."""
    return np.asarray(data * math.sqrt(LEVEL / loudness(data, rate_hz, BLOCK_S)))


def _decimated(data: Floats, rate_hz: int, thin: int) -> tuple[Floats, int]:
    """A sound decimated by `thin`, low-passed to 0.9 of the new band, and its new rate in hertz."""
    if thin == 1:
        return data, rate_hz
    return thinned(data, low_pass(24 * thin + 1, 0.93 / thin, 8.0), thin), rate_hz // thin


def _scaled_to_peak(takes: tuple[Take, ...]) -> tuple[Take, ...]:
    """All takes scaled by one gain, so that the highest peak is PEAK."""
    gain = PEAK / max(float(np.abs(take.data).max()) for take in takes)
    return tuple(replace(take, data=take.data * gain) for take in takes)
