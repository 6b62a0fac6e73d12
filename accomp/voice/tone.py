"""One note: the pressure at the microphone from a string, its bridge and body, and a pluck.

A string vibrates towards the face and along it. The two polarisations have different mobilities at
the bridge and are coupled there. The first loses its energy fast, the second slowly: the two-stage
decay of plucked strings (Weinreich, JASA 62, 1977, 1474).

With string impedances Z, mobilities Y and the force B of a unit pluck on a fixed bridge, the forces
on the moving bridge are f = (1 + Z·Y)⁻¹·B, a 2 × 2 system.

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

RELEASE_S = 0.005  # time of the release; the noise begins before it
ONSET_S = 0.0045


@dataclass(frozen=True)
class BridgedString:
    """A string held at one length and coupled to the bridge, without a pluck."""

    grid: Grid
    held: HeldString
    along: Waves
    from_vertical: Complexes  # pressure over the force on a fixed bridge, towards the face
    from_level: Complexes  # the same for the force along the face
    from_tension: Complexes  # pressure over added tension
    decay_per_s: Floats  # of partials 1, 2, ...

    @cached_property
    def round_trips(self) -> tuple[Complexes, Complexes]:
        """Round-trip factors of waves towards the face, and along it."""
        length_m, end_loss = self.held.length_m, self.held.end_loss
        one, other = (
            self.along.round_trip(length_m, loss)
            for loss in (end_loss, end_loss * self.held.side_loss)
        )
        return one, other

    @cached_property
    def passed_on(self) -> tuple[Complexes, ...]:
        """Force on the bridge over the force on each longitudinal mode within the grid's band."""
        own = lengthwise_hz(self.held.string, self.held.length_m)
        numbers = range(1, LENGTHWISE + 1)
        low = (number for number in numbers if number * own < 0.4 * self.grid.rate_hz)
        return tuple(passed_on(self.grid.s, number * own) for number in low)


def speaking(
    grid: Grid, held: HeldString, seat: Seat, pull: float, along: Waves | None = None
) -> BridgedString:
    """Couple a string to its seat; `pull` is the force into the face over added tension. `along`
    are the string's waves if known: they do not depend on the losses at its ends.
    """
    length_m, hz, end_loss = held.length_m, held.hz, held.end_loss
    level_loss = end_loss * held.side_loss
    along = along or waves(grid.s, held.string, held.tension_n, hz)
    zv = along.impedance(length_m, end_loss)
    zl = along.impedance(length_m * (1.0 + held.apart), level_loss)
    vertical, level = 1.0 + zv * seat.vertical, 1.0 + zl * seat.level
    determinant = vertical * level - zv * zl * seat.cross**2
    from_vertical = (level * seat.vertical_sound - zl * seat.cross * seat.level_sound) / determinant
    from_level = (vertical * seat.level_sound - zv * seat.cross * seat.vertical_sound) / determinant
    # Decay of the partials along the face, where most of the amplitude is: losses of string, bridge
    # and far end.
    places = np.round(np.arange(1, MODES + 1) * hz * grid.window_s).astype(int)
    places = np.minimum(places, grid.s.size - 1)
    string_decay = along.gamma.real[places] * 2.0 * length_m * hz - grid.sigma
    end_losses = (along.zc * seat.level).real[places] + level_loss
    return BridgedString(
        grid=grid,
        held=held,
        along=along,
        from_vertical=from_vertical,
        from_level=from_level,
        from_tension=from_vertical * pull,
        decay_per_s=np.maximum(string_decay + 2.0 * hz * end_losses, 0.0),
    )


@dataclass(frozen=True)
class Swings:
    """The sound of a stroke in parts: for a force of 1 N along the face, for 1 N towards it, and a
    rest that does not depend on the direction (rasp, tension). A weighted sum of them gives any
    direction.
    """

    level: Floats
    vertical: Floats
    rest: Floats

    def towards(self, pluck: Pluck) -> Floats:
        """The sound of the stroke in a pluck's direction."""
        return pluck.level_n * self.level + pluck.vertical_n * self.vertical + self.rest


def swings(speaking: BridgedString, pluck: Pluck) -> Swings:
    """The parts of one stroke's sound at the microphone, without the knock."""
    grid = speaking.grid
    *responses, glide = _responses(speaking, pluck)
    places = bent(grid.count, glide, _release_sample(grid))
    return Swings(*(_from_onset(grid, response, places) for response in responses))


def tone(speaking: BridgedString, pluck: Pluck) -> Floats:
    """The pressure of one stroke at the microphone, in pascal, without the knock."""
    level, vertical, rest, glide = _responses(speaking, pluck)
    response = pluck.level_n * level + pluck.vertical_n * vertical + rest
    grid = speaking.grid
    return _from_onset(grid, response, bent(grid.count, glide, _release_sample(grid)))


def _responses(
    speaking: BridgedString, pluck: Pluck
) -> tuple[Complexes, Complexes, Complexes, Floats]:
    """The parts of `Swings` in the Laplace plane, and the relative glide of the tension."""
    grid, held = speaking.grid, speaking.held
    there = speaking.along.over(pluck.at_m)
    vertical_force, level_force = (
        blocked(there, round_trip) for round_trip in speaking.round_trips
    )
    step, rasp = pluck.step(grid, RELEASE_S), pluck.rasp(grid, RELEASE_S)
    vertical = speaking.from_vertical * vertical_force
    level = speaking.from_level * level_force
    rest = (0.6 * vertical + 0.8 * level) * rasp

    added = stretch(grid, held, speaking.decay_per_s, pluck)
    tension = grid.transform(added.force - added.force[-1])
    for driven, passed in zip(added.lengthwise, speaking.passed_on, strict=False):
        tension += grid.transform(driven) * passed
    tension *= grid.delay(RELEASE_S) / grid.rate_hz
    rest += speaking.from_tension * tension
    return level * step, vertical * step, rest, added.glide


def _release_sample(grid: Grid) -> int:
    """The sample at which the string is released."""
    return round((RELEASE_S + grid.lead_s) * grid.rate_hz)


def _from_onset(grid: Grid, response: Complexes, places: Interpolation) -> Floats:
    """The sound of a response from ONSET_S before the release on, its pitch bent."""
    sound = places.of(grid.sound(response))
    return sound[_release_sample(grid) - round(ONSET_S * grid.rate_hz) :]


def knock(grid: Grid, body: Face, pluck: Pluck) -> Floats:
    """The pressure of a stroke's knock on the face, in pascal, from the same moment as `tone`."""
    start = round((RELEASE_S + grid.lead_s - ONSET_S) * grid.rate_hz)
    return grid.sound(body.knock_sound * pluck.knock(grid, RELEASE_S))[start:]


def mixed(sound: Floats, tap: Floats, share: float) -> Floats:
    """A stroke's sound with its knock, which is multiplied by `share`."""
    size = min(sound.size, tap.size)
    return np.asarray(sound[:size] + share * tap[:size])
