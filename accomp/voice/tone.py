"""One note: a string, its bridge and body, a pluck; out comes the pressure at the microphone.

The two directions in which a string swings, straight at the face and along it, see different
mobilities at the bridge and are coupled there. The first gives its energy away fast, the second
slowly: the two-stage decay of plucked strings (Weinreich, JASA 62, 1977, 1474).

With string impedances Z, mobilities Y and the force B that a unit pluck puts on a bridge standing
still, the forces f on the moving bridge follow from f = (1 + Z·Y)⁻¹·B, a 2 × 2 system.

Conventions: SI units; sounds are float arrays that start `ONSET_S` before the release.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from accomp.voice.body import Face
from accomp.voice.bridge import Seat
from accomp.voice.laplace import Complexes, Floats, Grid
from accomp.voice.parameters import StringParameters
from accomp.voice.pluck import Pluck
from accomp.voice.stretch import MODES, lengthwise_hz, passed_on, stretch, warp
from accomp.voice.strings import Waves, waves

RELEASE_S = 0.005  # in the window; leaves room for the noise before it
ONSET_S = 0.0045


@dataclass(frozen=True)
class Speaking:
    """A string stopped at one length, tied to the bridge: everything but the pluck."""

    grid: Grid
    string: StringParameters
    tension_n: float
    length_m: float
    hz: float
    end_loss: float
    side_loss: float
    along: Waves
    from_vertical: Complexes  # pressure for a unit blocked force straight at the face
    from_level: Complexes  # the same for one along the face
    from_tension: Complexes  # pressure for a unit of added tension
    decay_per_s: Floats  # of partials 1, 2, ...


def speaking(
    grid: Grid,
    string: StringParameters,
    seat: Seat,
    tension_n: float,
    length_m: float,
    end_loss: float,
    apart: float,
    pull: float,
    side_loss: float,
) -> Speaking:
    """Tie a string of `length_m` to its seat; `apart` is how much longer it is for the level
    direction, as part of its length (the fret holds it less firmly along than across); `pull` the
    force into the face for a unit of added tension.
    """
    hz = math.sqrt(tension_n / string.mass_kg_m) / (2.0 * length_m)
    along = waves(grid.s, string, tension_n, hz)
    zv = along.impedance(length_m, end_loss)
    zl = along.impedance(length_m * (1.0 + apart), end_loss * side_loss)
    vertical, level = 1.0 + zv * seat.vertical, 1.0 + zl * seat.level
    whole = vertical * level - zv * zl * seat.cross**2
    from_vertical = (level * seat.vertical_sound - zl * seat.cross * seat.level_sound) / whole
    from_level = (vertical * seat.level_sound - zv * seat.cross * seat.vertical_sound) / whole
    # How partials die away along the face, where most of the swing is: by what string, bridge and
    # other end take from them.
    places = np.round(np.arange(1, MODES + 1) * hz * grid.window_s).astype(int)
    places = np.minimum(places, grid.s.size - 1)
    inner = along.gamma.real[places] * 2.0 * length_m * hz - grid.sigma
    lost = (along.zc * seat.level).real[places] + end_loss * side_loss
    return Speaking(
        grid=grid,
        string=string,
        tension_n=tension_n,
        length_m=length_m,
        hz=hz,
        end_loss=end_loss,
        side_loss=side_loss,
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


def swings(speaking: Speaking, pluck: Pluck) -> Swings:
    """The pressure of one stroke at the microphone, without the knock, direction by direction."""
    *responses, glide = _responses(speaking, pluck)
    return Swings(*(_heard(speaking.grid, response, glide) for response in responses))


def tone(speaking: Speaking, pluck: Pluck) -> Floats:
    """The pressure of one stroke at the microphone, in pascal, without the knock."""
    level, vertical, rest, glide = _responses(speaking, pluck)
    response = pluck.level_n * level + pluck.vertical_n * vertical + rest
    return _heard(speaking.grid, response, glide)


def _responses(speaking: Speaking, pluck: Pluck) -> tuple[Complexes, Complexes, Complexes, Floats]:
    """The parts of `Swings` as responses, and the tension's slow part, which bends them all."""
    grid, s = speaking.grid, speaking.grid.s
    blocked, aside = (
        speaking.along.blocked_force(speaking.length_m, pluck.at_m, loss)
        for loss in (speaking.end_loss, speaking.end_loss * speaking.side_loss)
    )
    step, rasp = pluck.step(grid, RELEASE_S), pluck.rasp(grid, RELEASE_S)
    vertical = speaking.from_vertical * blocked
    level = speaking.from_level * aside
    rest = (0.6 * vertical + 0.8 * level) * rasp

    added = stretch(
        grid, speaking.string, speaking.tension_n, speaking.length_m, speaking.hz,
        speaking.decay_per_s, pluck,
    )  # fmt: skip
    pulled = grid.transform(added.force - added.force[-1])
    own = lengthwise_hz(speaking.string, speaking.length_m)
    for number, driven in enumerate(added.lengthwise, 1):
        if number * own < 0.4 * grid.rate_hz:
            pulled += grid.transform(driven) * passed_on(s, number * own)
    pulled *= np.exp(-s * RELEASE_S) / grid.rate_hz
    rest += speaking.from_tension * pulled
    return level * step, vertical * step, rest, added.glide


def _heard(grid: Grid, response: Complexes, glide: Floats) -> Floats:
    """The sound of a response from just before the release on, its pitch bent."""
    start = round((RELEASE_S + grid.lead_s) * grid.rate_hz)
    sound = warp(grid.sound(response), glide, grid.rate_hz, start)
    return sound[start - round(ONSET_S * grid.rate_hz) :]


def knock(grid: Grid, body: Face, pluck: Pluck) -> Floats:
    """The pressure of the tap on the face that goes with a stroke, from the same moment on."""
    start = round((RELEASE_S + grid.lead_s - ONSET_S) * grid.rate_hz)
    return grid.sound(body.knock_sound * pluck.knock(grid, RELEASE_S))[start:]


def mixed(sound: Floats, tap: Floats, share: float) -> Floats:
    """A stroke with so much of its knock."""
    size = min(sound.size, tap.size)
    return np.asarray(sound[:size] + share * tap[:size])
