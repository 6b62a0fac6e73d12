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

from accomp.voice.body import Face
from accomp.voice.box import box_face
from accomp.voice.bridge import Seat, seat
from accomp.voice.head import head_face
from accomp.voice.laplace import Complexes, Floats, Grid
from accomp.voice.measure import (
    attack_s,
    centroid_hz,
    cents,
    damping,
    envelope,
    fall_s,
    loudness,
    pitch_hz,
)
from accomp.voice.parameters import Direction, Voice
from accomp.voice.pluck import Pluck
from accomp.voice.stretch import warp
from accomp.voice.strings import fretted_m, waves
from accomp.voice.tone import Speaking, knock, mixed, speaking, tone

COARSE = 8  # a head is computed at every eighth frequency, see Face.between; a box rings too long
FALL_NEPERS = 30.0 / 20.0 * math.log(10.0)
PEAK = 0.95
LONGER = 1.15  # strings ring so much longer than asked for, takes are then damped one by one
TRIES = 5  # plucks at another place and angle, before the nearest to what is asked for counts
KNOCKS = (1.0, 1.4, 0.7, 2.0, 0.5, 2.8, 0.35, 4.0, 0.25)  # shares of the knock, in this order
AGAIN = 0.6  # how much further places and angles spread with each try
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


@dataclass(frozen=True)
class Model:
    """A voice made ready: the body and each string's seat on the bridge."""

    voice: Voice
    grid: Grid
    face: Face
    seats: tuple[Seat, ...]


def model(voice: Voice) -> Model:
    """Everything that does not depend on the note."""
    grid = Grid(voice.layout.rate_hz, voice.layout.window)
    face = _body(grid.s, voice).lifted(grid.s, voice.microphone)
    seats = []
    for index, string in enumerate(voice.strings):
        others, rocking = _others(grid.s, voice, index)
        outermost = max(abs(other.side_mm) for other in voice.strings)
        seats.append(seat(grid.s, voice.bridge, face, string.side_mm, outermost, others, rocking))
    return Model(voice, grid, face, tuple(seats))


def _body(s: Complexes, voice: Voice) -> Face:
    if voice.head is not None:
        coarse = s[::COARSE]
        return head_face(coarse, voice.head, voice.microphone).between(coarse, s)
    assert voice.box is not None, "the reader sees to it that there is one of them"
    return box_face(s, voice.box)


def _others(s: Complexes, voice: Voice, index: int) -> tuple[Complexes, Complexes]:
    """Impedance at the bridge of all after-lengths and of the strings that are not played, as
    force over velocity and as moment over angular velocity.
    """
    force, moment = np.zeros_like(s), np.zeros_like(s)
    for number, string in enumerate(voice.strings):
        scale = voice.neck.scale_mm / 1000.0
        along = waves(s, string, string.tension_n(scale), string.frequency_hz)
        felt = along.impedance(voice.neck.after_mm / 1000.0, voice.neck.after_loss)
        if number != index:
            felt = felt + along.impedance(scale, voice.neck.hand_loss)
        force += felt
        moment += felt * (string.side_mm / 1000.0) ** 2
    return force, moment


def stopped(
    model: Model, index: int, fret: int, end_loss: float, side_loss: float | None = None
) -> Speaking:
    """A string stopped at a fret, with the neck's `side_loss` unless another is given."""
    neck, string = model.voice.neck, model.voice.strings[index]
    scale = neck.scale_mm / 1000.0
    pull = math.sin(math.radians(neck.break_angle_deg)) + neck.lean
    return speaking(
        model.grid, string, model.seats[index], string.tension_n(scale), fretted_m(scale, fret),
        end_loss, neck.apart, pull,
        neck.side_loss if side_loss is None else side_loss,
    )  # fmt: skip


def evened(model: Model, index: int, fret: int) -> Speaking:
    """A string stopped at a fret, with the end loss that lets it ring as long as asked for.

    Loss and rate of decay are nearly a straight line, so a few secant steps find it.
    """
    voice = model.voice
    wanted = 1.0 / (LONGER * voice.decay.at(voice.strings[index].pitch + fret))
    loss = voice.neck.end_loss

    def ringing(loss: float) -> tuple[float, Speaking]:
        string = stopped(model, index, fret, loss)
        stroke = pluck(voice, string, index, fret, len(voice.plectrum.force) // 2, up=False)
        sound = tone(string, replace(stroke, noise_n=0.0))
        return 1.0 / fall_s(sound, model.grid.rate_hz, 30.0), string

    rate, string = ringing(loss)
    theory = slope = 2.0 * string.hz / FALL_NEPERS  # an end takes its loss once a round trip
    for _ in range(6):
        step = (wanted - rate) / slope
        if abs(wanted / rate - 1.0) < 0.03 or loss + step < voice.neck.end_loss:
            break
        before = rate
        rate, string = ringing(loss + step)
        loss += step
        slope = min(max((rate - before) / step, 0.5 * theory), 2.0 * theory)
    return string


def pluck(
    voice: Voice, string: Speaking, index: int, fret: int, force: int, *, up: bool, again: int = 0
) -> Pluck:
    """A stroke of one level of force, at a place and angle of its own: each time `again` another,
    and somewhat further off.
    """
    plectrum, level = voice.plectrum, voice.plectrum.force[force]
    way: Direction = plectrum.up if up else plectrum.down
    take = (index, fret, force, int(up), *((again,) if again else ()))
    place, angle = np.random.default_rng(take).uniform(-1.0, 1.0, 2) * (1.0 + AGAIN * again)
    # The hand follows the stopping finger a little; a light string flies off the tip faster.
    reach = 0.4 + 0.6 * string.length_m / (voice.neck.scale_mm / 1000.0)
    at_mm = (level.at_mm + way.shift_mm) * reach + place * plectrum.spread_mm
    lightness = math.sqrt(_impedance(voice, index) / _middle_impedance(voice))
    return Pluck(
        force_n=level.force_n,
        at_m=min(max(at_mm / 1000.0, 0.03 * string.length_m), 0.9 * string.length_m),
        angle_deg=way.angle_deg + angle * plectrum.spread_deg,
        release_s=level.release_ms * way.sharper * lightness / 1000.0,
        noise_n=level.noise_n * way.noise,
        noise_s=plectrum.noise_ms / 1000.0,
        knock_n=level.knock_n * way.knock,
        knock_s=plectrum.knock_ms / 1000.0,
        take=take,
    )


def _impedance(voice: Voice, index: int) -> float:
    """Wave impedance √(T·μ) of a string, in kg/s."""
    string = voice.strings[index]
    return math.sqrt(string.tension_n(voice.neck.scale_mm / 1000.0) * string.mass_kg_m)


def _middle_impedance(voice: Voice) -> float:
    """Geometric mean over the strings."""
    values = [_impedance(voice, index) for index in range(len(voice.strings))]
    return math.prod(values) ** (1.0 / len(values))


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
    for again in range(TRIES):
        stroke = pluck(model.voice, string, *note, up=up, again=again)
        sound, tap = _course(model, string, stroke), knock(model.grid, model.face, stroke)
        for share in KNOCKS:
            both = mixed(sound, tap, share)
            # With some room: played at another pitch, a second swing as high as the first decides.
            early, late = attack_s(both, rate, 0.85), attack_s(both, rate, 0.96)
            off = max(1.0 - early / shortest, late / longest - 1.0, 0.0)
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
        for force in range(len(voice.plectrum.force)):
            fret = 4 + number  # the hand lies somewhere in the lower half of the neck
            string = stopped(model, index, fret, dead.end_loss, side_loss=1.0)
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
