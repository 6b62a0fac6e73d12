"""The model of a voice: the body, each string's seat on the bridge, a string stopped at a fret, a
stroke.

Conventions: strings are indices into the voice's list, the highest-numbered first.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from accomp.voice.body import Face, modal
from accomp.voice.box import box_face
from accomp.voice.bridge import OtherLoads, Seat, seat
from accomp.voice.head import head_face
from accomp.voice.laplace import Complexes, Floats, Grid
from accomp.voice.measure import fall_s
from accomp.voice.parameters import Direction, Voice
from accomp.voice.pluck import Pluck
from accomp.voice.strings import HeldString, fretted_m, waves
from accomp.voice.tone import BridgedString, knock, speaking, tone

COARSE = 8  # a head is computed at every eighth frequency (`Face.between`); a box rings too long
FALL_NEPERS = 30.0 / 20.0 * math.log(10.0)
LONGER = 1.15  # strings ring longer than wanted by this factor; each take is damped afterwards
AGAIN = 0.6  # with each try a stroke's place and angle may deviate further by this share


@dataclass(frozen=True)
class Model:
    """The parts of a voice that do not depend on the note."""

    voice: Voice
    grid: Grid
    face: Face
    seats: tuple[Seat, ...]

    @cached_property
    def _taps(self) -> dict[tuple[float, float, float], Floats]:
        return {}

    def tap(self, stroke: Pluck) -> Floats:
        """The knock of a stroke, in pascal. Strings and frets share a few, which are cached."""
        what = (stroke.knock_n, stroke.knock_s, stroke.knock_after_s)
        kept = self._taps.get(what)
        if kept is None:
            kept = self._taps[what] = knock(self.grid, self.face, stroke)
            kept.flags.writeable = False
        return kept


@dataclass(frozen=True, slots=True)
class StruckNote:
    """A note and its stroke: index of the string, fret, level of force (0 softest), direction."""

    index: int
    fret: int
    force: int
    up: bool = False


def model(voice: Voice) -> Model:
    """Compute the parts of a voice that do not depend on the note."""
    grid = Grid(voice.layout.rate_hz, voice.layout.window)
    face = _body(grid.s, voice).lifted(grid.s, voice.microphone)
    seats = []
    impedances = _string_impedances(grid.s, voice)
    for index, string in enumerate(voice.strings):
        others = _other_loads(voice, index, impedances)
        outermost = max(abs(other.side_mm) for other in voice.strings)
        seats.append(seat(grid.s, voice.bridge, face, string.side_mm, outermost, others))
    return Model(voice, grid, face, tuple(seats))


def _body(s: Complexes, voice: Voice) -> Face:
    if voice.head is not None:
        coarse = s[::COARSE]
        skin = head_face(coarse, voice.head, voice.microphone).between(coarse, s)
        return skin.plus(modal(s, voice.head.rim, voice.head.foot_mm))
    assert voice.box is not None, "the reader sees to it that there is one of them"
    return box_face(s, voice.box)


def _string_impedances(s: Complexes, voice: Voice) -> tuple[tuple[Complexes, Complexes], ...]:
    """Impedance at the bridge of each string's after-length, and of the string when not played."""
    scale, neck = voice.neck.scale_mm / 1000.0, voice.neck
    result = []
    for string in voice.strings:
        along = waves(s, string, string.tension_n(scale), string.frequency_hz)
        after = along.impedance(neck.after_mm / 1000.0, neck.after_loss)
        result.append((after, along.impedance(scale, neck.hand_loss)))
    return tuple(result)


def _other_loads(
    voice: Voice, index: int, impedances: Sequence[tuple[Complexes, Complexes]]
) -> OtherLoads:
    """The load on the bridge while string `index` is played."""
    force, moment = np.zeros_like(impedances[0][0]), np.zeros_like(impedances[0][0])
    for number, (string, (after, still)) in enumerate(zip(voice.strings, impedances, strict=True)):
        both = after if number == index else after + still
        force += both
        moment += both * (string.side_mm / 1000.0) ** 2
    return OtherLoads(force, moment)


def stopped(
    model: Model,
    index: int,
    fret: int,
    end_loss: float,
    side_loss: float | None = None,
    before: BridgedString | None = None,
) -> BridgedString:
    """A string stopped at a fret, with the neck's `side_loss` unless another is given. `before` is
    the same string with another loss, if it was computed: its waves, which do not depend on the
    loss, are used again.
    """
    neck, string = model.voice.neck, model.voice.strings[index]
    scale = neck.scale_mm / 1000.0
    pull = math.sin(math.radians(neck.break_angle_deg)) + neck.lean
    held = HeldString(
        string,
        tension_n=string.tension_n(scale),
        length_m=fretted_m(scale, fret),
        end_loss=end_loss,
        side_loss=neck.side_loss if side_loss is None else side_loss,
        apart=neck.apart,
    )
    along = before.along if before is not None else None
    return speaking(model.grid, held, model.seats[index], pull, along)


def evened(model: Model, index: int, fret: int) -> BridgedString:
    """A string stopped at a fret, with the end loss that gives the wanted decay (times `LONGER`).

    The rate of decay is nearly linear in the loss, so a few secant steps find it. The loss is never
    below the neck's `end_loss`.
    """
    voice = model.voice
    wanted = 1.0 / (LONGER * voice.decay.at(voice.strings[index].pitch + fret))
    loss = voice.neck.end_loss

    def ringing(loss: float, before: BridgedString | None = None) -> tuple[float, BridgedString]:
        string = stopped(model, index, fret, loss, before=before)
        middle = StruckNote(index, fret, len(voice.plectrum.force) // 2)
        stroke = pluck(voice, string, middle)
        sound = tone(string, replace(stroke, noise_n=0.0))
        return 1.0 / fall_s(sound, model.grid.rate_hz, 30.0), string

    rate, string = ringing(loss)
    theory = slope = 2.0 * string.held.hz / FALL_NEPERS  # an end takes its loss once a round trip
    for _ in range(6):
        step = (wanted - rate) / slope
        if abs(wanted / rate - 1.0) < 0.03 or loss + step < voice.neck.end_loss:
            break
        before = rate
        rate, string = ringing(loss + step, string)
        loss += step
        slope = min(max((rate - before) / step, 0.5 * theory), 2.0 * theory)
    return string


def pluck(voice: Voice, string: BridgedString, note: StruckNote, again: int = 0) -> Pluck:
    """The stroke of a note, with a seeded random deviation of its place and angle. Another `again`
    gives another deviation; its range grows with `again`.
    """
    plectrum, level = voice.plectrum, voice.plectrum.force[note.force]
    direction: Direction = plectrum.up if note.up else plectrum.down
    take = (note.index, note.fret, note.force, int(note.up), *((again,) if again else ()))
    place, angle = np.random.default_rng(take).uniform(-1.0, 1.0, 2) * (1.0 + AGAIN * again)
    # The hand follows the stopping finger a little; a light string flies off the tip faster.
    length_m = string.held.length_m
    scaling = 0.4 + 0.6 * length_m / (voice.neck.scale_mm / 1000.0)
    at_mm = (level.at_mm + direction.shift_mm) * scaling + place * plectrum.spread_mm
    outermost = max(abs(other.side_mm) for other in voice.strings)
    side = voice.strings[note.index].side_mm / outermost
    lightness = math.sqrt(_impedance(voice, note.index) / _middle_impedance(voice))
    return Pluck(
        force_n=level.force_n,
        at_m=min(max(at_mm / 1000.0, 0.03 * length_m), 0.9 * length_m),
        angle_deg=direction.angle_deg - direction.arc_deg * side + angle * plectrum.spread_deg,
        release_s=level.release_ms * direction.sharper * lightness / 1000.0,
        noise_n=level.noise_n * direction.noise,
        noise_s=plectrum.noise_ms / 1000.0,
        knock_n=level.knock_n * direction.knock,
        knock_s=plectrum.knock_ms / 1000.0,
        knock_after_s=plectrum.knock_after_ms / 1000.0,
        take=take,
    )


def _impedance(voice: Voice, index: int) -> float:
    """Wave impedance √(T·μ) of a string, in kg/s."""
    string = voice.strings[index]
    return math.sqrt(string.tension_n(voice.neck.scale_mm / 1000.0) * string.mass_kg_m)


def _middle_impedance(voice: Voice) -> float:
    """Geometric mean of the strings' wave impedances, in kg/s."""
    values = [_impedance(voice, index) for index in range(len(voice.strings))]
    return math.prod(values) ** (1.0 / len(values))
