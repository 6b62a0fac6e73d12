"""How the strings of the strummed instrument begin and stop sounding.

Conventions: one MIDI channel a string, so that every string has its own end. A string sounds until
it is struck again, until a choked stroke lets go (fretted strings only: an open string rings on),
until the heel of the right hand or a rest stops it, until the hand leaves it for another fret,
until nobody plays (N.C.), or to the last bar line. Seconds are floats from the start of the file.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction

from accomp.neck import Shape
from accomp.rhythm import Style, jitter
from accomp.rhythm.drift import spread_factor, straying, uneven
from accomp.rhythm.stroke import StrokeDirection, StrokeSound, Technique, spread_ms, tapered
from accomp.rhythm.strum import (
    ROLL_SHARE,
    roll_ms,
    tremolo_direction,
    tremolo_force,
    tremolo_starts_s,
)
from accomp.score.arrangement import ArrangedBar, Arrangement, Strum
from accomp.score.performance import DRUM_CHANNEL, Note
from accomp.score.shape import shape_db, velocity_at

BANKS = {
    StrokeSound.RING: 0,
    StrokeSound.CHOKED: 1,
    StrokeSound.HEEL: 1,
    StrokeSound.DEAD: 2,
}

# Common practice, no source: the fretting hand lets go just after the stroke; at fast tempi the
# stroke is shorter than that and the hand lets go sooner.
CHOKE_S = 0.11
CHOKE_SHARE = 0.45
# A dead stroke is a click: the fingers rest on the strings before it sounds.
DEAD_S = 0.04
# Of the time to the next stroke, at most so much goes by before the last string is met.
SPREAD_SHARE = 1 / 3

SecondsAt = Callable[[Fraction], float]


@dataclass(frozen=True, slots=True)
class Movement:
    """One movement across the strings: `strum` as played, when, how long until the next movement,
    how long from the first string to the last, and by how much its force strays (velocity).

    `met` says when each string is met, as a share of `spread_s`; when it is empty, they are met
    evenly. The movement is `louder_db` louder than its force says.
    """

    strum: Strum
    start_s: float
    length_s: float
    spread_s: float
    stray: float = 0.0
    met: tuple[float, ...] = ()
    louder_db: float = 0.0


@dataclass
class _Ringing:
    """A string that sounds: since when, at which fret, and the note it will become."""

    start_s: float
    fret: int
    pitch: int
    velocity: int
    bank: int
    up: bool


def string_channels(strings: int) -> tuple[int, ...]:
    """MIDI channels (0 to 15) of the strings, highest-numbered string first; never the drums'."""
    free = [channel for channel in range(16) if channel not in (DRUM_CHANNEL, 10, 11)]
    return tuple(free[:strings])


def string_notes(
    arrangement: Arrangement, clock: SecondsAt, channels: tuple[int, ...], whole_s: float
) -> tuple[Note, ...]:
    """All notes of the strummed part, by time."""
    tempo_bpm = 60.0 / (whole_s * float(arrangement.beat))
    strings = [_String(channel) for channel in channels]
    for bar, louder_db in zip(arrangement.bars, shape_db(arrangement.bars), strict=True):
        strums = list(bar.strums)
        for change in bar.changes:
            at_s = clock(change.span.start)
            for string, held in zip(strings, _frets(change.shape, len(strings)), strict=True):
                string.hand_moves(at_s, held)
            while strums and strums[0].span.start in change.span:
                for hit in hits(strums.pop(0), bar, clock, whole_s, tempo_bpm, arrangement.seed):
                    _strike(replace(hit, louder_db=louder_db), strings, bar.style.taper)
    end_s = clock(arrangement.bars[-1].span.end)
    for string in strings:
        string.stop(end_s)
    notes = [note for string in strings for note in string.notes]
    return tuple(sorted(notes, key=lambda note: (note.start_s, note.channel)))


def hits(
    strum: Strum, bar: ArrangedBar, clock: SecondsAt, whole_s: float, tempo_bpm: float, seed: int
) -> list[Movement]:
    """The movements of a stroke: several for a tremolo, else one."""
    style = bar.style
    start_s, end_s = clock(strum.span.start), clock(strum.span.end)
    moment = strum.span.start - bar.span.start
    names = ("strum", bar.address, moment)
    late_s = 0.0
    if style.jitter_ms:
        length = bar.bar.meter.bar
        late_s = style.jitter_ms / 1000 * straying(seed, "strum", bar.address, moment, length)
    late_s = max(late_s, -start_s, -(end_s - start_s) / 4)
    stray = style.jitter_force * jitter(seed, *names, "force")
    length_s = end_s - start_s - max(late_s, 0.0)
    start_s += late_s
    if strum.technique != Technique.TREMOLO:
        plain = Movement(strum, start_s, length_s, 0.0, stray)
        return [_by_hand(plain, style, tempo_bpm, seed, names)]
    value_s = None if strum.value is None else float(strum.value) * whole_s
    starts_s = tremolo_starts_s(length_s, value_s)
    found = []
    for index, (begin_s, next_s) in enumerate(
        zip(starts_s, [*starts_s[1:], length_s], strict=True)
    ):
        direction = tremolo_direction(strum.direction, index)
        strings = strum.strings if direction == strum.direction else strum.strings[::-1]
        one = replace(
            strum,
            direction=direction,
            strings=strings,
            force=tremolo_force(strum.force, index),
            technique=Technique.STROKE,
        )
        step_s = next_s - begin_s
        where = (*names, index)
        if style.jitter_force and index:
            stray = style.jitter_force * jitter(seed, *where, "force")
        at_s = start_s + begin_s
        plain = Movement(one, at_s, step_s, 0.0, stray)
        found.append(_by_hand(plain, style, tempo_bpm, seed, where))
    return found


def _by_hand(
    plain: Movement, style: Style, tempo_bpm: float, seed: int, names: tuple[object, ...]
) -> Movement:
    """The movement spread over its strings: evenly, or unevenly as a hand does it where the style
    strays."""
    strum, length_s = plain.strum, plain.length_s
    spread_s = _spread_s(strum, style, tempo_bpm, length_s)
    if not style.jitter_ms or len(strum.strings) < 2:
        return replace(plain, spread_s=spread_s)
    up = strum.direction == StrokeDirection.UP
    spread_s *= spread_factor(up=up, seed=seed, names=names)
    spread_s = min(spread_s, length_s * (ROLL_SHARE if _rolls(strum) else SPREAD_SHARE))
    met = uneven(len(strum.strings), seed, names)
    return replace(plain, spread_s=spread_s, met=met)


def _rolls(strum: Strum) -> bool:
    return strum.technique == Technique.ROLL


def _spread_s(strum: Strum, style: Style, tempo_bpm: float, length_s: float) -> float:
    """Time from the first string to the last, in seconds."""
    number = len(strum.strings)
    if _rolls(strum):
        return roll_ms(length_s * 1000, number) / 1000
    spread = spread_ms(strum.force, tempo_bpm, number, style.spread) / 1000
    return min(spread, length_s * SPREAD_SHARE)


def _frets(shape: Shape | None, strings: int) -> tuple[int | None, ...]:
    return (None,) * strings if shape is None else shape.frets


def _strike(hit: Movement, strings: list[_String], taper: float) -> None:
    """One movement: the plectrum meets the strings one after another."""
    strum, start_s = hit.strum, hit.start_s
    if strum.technique == Technique.REST:
        for string in strings:
            string.stop(start_s)
        return
    for order, index in enumerate(strum.strings):
        share = hit.met[order] if hit.met else order / max(1, len(strum.strings) - 1)
        at_s = start_s + hit.spread_s * share
        fret, pitch = strum.shape.frets[index], strum.shape.pitches[index]
        assert fret is not None, "only sounding strings are struck"
        assert pitch is not None, "only sounding strings are struck"
        plain = velocity_at(tapered(strum.force, order, taper), hit.louder_db)
        loud = round(plain + hit.stray)
        bank = BANKS[strum.sound]
        up = strum.direction == StrokeDirection.UP
        strings[index].strike(_Ringing(at_s, fret, pitch, min(max(loud, 1), 127), bank, up))
        if strum.sound == StrokeSound.DEAD:
            strings[index].stop(at_s + min(DEAD_S, hit.length_s / 2))
    let_go_s = start_s + hit.spread_s + min(CHOKE_S, hit.length_s * CHOKE_SHARE)
    if strum.sound == StrokeSound.CHOKED:
        for index in strum.strings:
            if strum.shape.frets[index]:
                strings[index].stop(let_go_s)
    elif strum.sound == StrokeSound.HEEL:
        for string in strings:
            string.stop(let_go_s)


class _String:
    """One string and the notes it has sounded."""

    def __init__(self, channel: int) -> None:
        self.channel = channel
        self.ringing: _Ringing | None = None
        self.notes: list[Note] = []

    def strike(self, new: _Ringing) -> None:
        """The string begins to sound; a stroke ahead of its time cuts the notes before it short."""
        self.stop(new.start_s)
        while self.notes and self.notes[-1].end_s > new.start_s:
            before = self.notes.pop()
            if before.start_s < new.start_s:
                self.notes.append(replace(before, end_s=new.start_s))
        self.ringing = new

    def hand_moves(self, at_s: float, fret: int | None) -> None:
        """The left hand takes its next shape: a string at another fret is stopped."""
        if self.ringing is not None and self.ringing.fret != fret:
            self.stop(at_s)

    def stop(self, at_s: float) -> None:
        """The string is stopped, if it sounds."""
        if self.ringing is None:
            return
        ring, self.ringing = self.ringing, None
        if at_s > ring.start_s:
            self.notes.append(
                Note(
                    ring.start_s,
                    at_s,
                    ring.pitch,
                    ring.velocity,
                    self.channel,
                    ring.bank,
                    up=ring.up,
                )
            )
