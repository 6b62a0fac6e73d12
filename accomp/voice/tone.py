"""One note: a string, its bridge and body, a pluck; out comes the pressure at the microphone.

The two directions in which a string swings, straight at the face and along it, see different
mobilities at the bridge and are coupled there. The first gives its energy away fast, the second
slowly: the two-stage decay of plucked strings (Weinreich, JASA 62, 1977, 1474).

With string impedances Z, mobilities Y and the force B that a unit pluck puts on a bridge standing
still, the forces f on the moving bridge follow from f = (1 + Z·Y)⁻¹·B, a 2 × 2 system.

Conventions: SI units; sounds are float arrays that start `ONSET_S` before the release.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from accomp.voice.body import Face
from accomp.voice.bridge import Seat
from accomp.voice.laplace import Complexes, Floats, Grid
from accomp.voice.numerics import Interpolation
from accomp.voice.pluck import Pluck
from accomp.voice.stretch import LENGTHWISE, MODES, bent, lengthwise_hz, passed_on, stretch
from accomp.voice.strings import HeldString, Waves, blocked, waves

RELEASE_S = 0.005  # in the window; leaves room for the noise before it
ONSET_S = 0.0045


@dataclass(frozen=True)
class BridgedString:
    """A string held at one length, tied to the bridge: everything but the pluck."""

    grid: Grid
    held: HeldString
    along: Waves
    from_vertical: Complexes  # pressure for a unit blocked force straight at the face
    from_level: Complexes  # the same for one along the face
    from_tension: Complexes  # pressure for a unit of added tension
    decay_per_s: Floats  # of partials 1, 2, ...

    @cached_property
    def round_trips(self) -> tuple[Complexes, Complexes]:
        """What becomes of a wave on the string that swings straight at the face, and along it."""
        length_m, end_loss = self.held.length_m, self.held.end_loss
        one, other = (
            self.along.round_trip(length_m, loss)
            for loss in (end_loss, end_loss * self.held.side_loss)
        )
        return one, other

    @cached_property
    def passed_on(self) -> tuple[Complexes, ...]:
        """What the bridge feels of the modes along the string, as many as the grid has room for."""
        own = lengthwise_hz(self.held.string, self.held.length_m)
        numbers = range(1, LENGTHWISE + 1)
        low = (number for number in numbers if number * own < 0.4 * self.grid.rate_hz)
        return tuple(passed_on(self.grid.s, number * own) for number in low)


def speaking(
    grid: Grid, held: HeldString, seat: Seat, pull: float, along: Waves | None = None
) -> BridgedString:
    """Tie a string to its seat; `pull` is the force into the face for a unit of added tension.
    `along` are its waves if they are known: they are the same whatever its ends take.
    """
    length_m, hz, end_loss = held.length_m, held.hz, held.end_loss
    aside_loss = end_loss * held.side_loss
    along = along or waves(grid.s, held.string, held.tension_n, hz)
    zv = along.impedance(length_m, end_loss)
    zl = along.impedance(length_m * (1.0 + held.apart), aside_loss)
    vertical, level = 1.0 + zv * seat.vertical, 1.0 + zl * seat.level
    whole = vertical * level - zv * zl * seat.cross**2
    from_vertical = (level * seat.vertical_sound - zl * seat.cross * seat.level_sound) / whole
    from_level = (vertical * seat.level_sound - zv * seat.cross * seat.vertical_sound) / whole
    # How partials die away along the face, where most of the swing is: by what string, bridge and
    # other end take from them.
    places = np.round(np.arange(1, MODES + 1) * hz * grid.window_s).astype(int)
    places = np.minimum(places, grid.s.size - 1)
    inner = along.gamma.real[places] * 2.0 * length_m * hz - grid.sigma
    lost = (along.zc * seat.level).real[places] + aside_loss
    return BridgedString(
        grid=grid,
        held=held,
        along=along,
        from_vertical=from_vertical,
        from_level=from_level,
        from_tension=from_vertical * pull,
        decay_per_s=np.maximum(inner + 2.0 * hz * lost, 0.0),
    )


@dataclass(frozen=True)
class Swings:
    """What a stroke sounds like for a force of 1 N along the face and one straight at it, and what
    does not depend on its direction (rasp, tension): sounds, so that a direction is a sum.
    """

    level: Floats
    vertical: Floats
    rest: Floats

    def towards(self, pluck: Pluck) -> Floats:
        """The sound of the stroke in a pluck's direction."""
        return pluck.level_n * self.level + pluck.vertical_n * self.vertical + self.rest


def swings(speaking: BridgedString, pluck: Pluck) -> Swings:
    """The pressure of one stroke at the microphone, without the knock, direction by direction."""
    grid = speaking.grid
    *responses, glide = _responses(speaking, pluck)
    places = bent(grid.count, glide, _release(grid))
    return Swings(*(_heard(grid, response, places) for response in responses))


def tone(speaking: BridgedString, pluck: Pluck) -> Floats:
    """The pressure of one stroke at the microphone, in pascal, without the knock."""
    level, vertical, rest, glide = _responses(speaking, pluck)
    response = pluck.level_n * level + pluck.vertical_n * vertical + rest
    grid = speaking.grid
    return _heard(grid, response, bent(grid.count, glide, _release(grid)))


def _responses(
    speaking: BridgedString, pluck: Pluck
) -> tuple[Complexes, Complexes, Complexes, Floats]:
    """The parts of `Swings` as responses, and the tension's slow part, which bends them all."""
    grid, held = speaking.grid, speaking.held
    there = speaking.along.over(pluck.at_m)
    straight, aside = (blocked(there, round_trip) for round_trip in speaking.round_trips)
    step, rasp = pluck.step(grid, RELEASE_S), pluck.rasp(grid, RELEASE_S)
    vertical = speaking.from_vertical * straight
    level = speaking.from_level * aside
    rest = (0.6 * vertical + 0.8 * level) * rasp

    added = stretch(grid, held, speaking.decay_per_s, pluck)
    pulled = grid.transform(added.force - added.force[-1])
    for driven, passed in zip(added.lengthwise, speaking.passed_on, strict=False):
        pulled += grid.transform(driven) * passed
    pulled *= grid.delay(RELEASE_S) / grid.rate_hz
    rest += speaking.from_tension * pulled
    return level * step, vertical * step, rest, added.glide


def _release(grid: Grid) -> int:
    """The sample at which the string is let go."""
    return round((RELEASE_S + grid.lead_s) * grid.rate_hz)


def _heard(grid: Grid, response: Complexes, places: Interpolation) -> Floats:
    """The sound of a response from just before the release on, its pitch bent."""
    sound = places.of(grid.sound(response))
    return sound[_release(grid) - round(ONSET_S * grid.rate_hz) :]


def knock(grid: Grid, body: Face, pluck: Pluck) -> Floats:
    """The pressure of the tap on the face that goes with a stroke, from the same moment on."""
    start = round((RELEASE_S + grid.lead_s - ONSET_S) * grid.rate_hz)
    return grid.sound(body.knock_sound * pluck.knock(grid, RELEASE_S))[start:]


def mixed(sound: Floats, tap: Floats, share: float) -> Floats:
    """A stroke with so much of its knock."""
    size = min(sound.size, tap.size)
    return np.asarray(sound[:size] + share * tap[:size])
