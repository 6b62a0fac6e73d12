"""How the strings of the strummed instrument begin and stop sounding.

Conventions: one MIDI channel a string, so that every string has its own end. A string sounds until
it is struck again, until a choked stroke lets go (fretted strings only: an open string rings on),
until the hand leaves it for another fret, until nobody plays (N.C.), or to the last bar line.
Seconds are floats from the start of the file.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from accomp.neck import Shape
from accomp.rhythm.force import spread_ms, tapered
from accomp.score.arrangement import Arrangement, Strum
from accomp.score.performance import Note

BANKS = {"ring": 0, "choked": 1, "dead": 2}

# Common practice, no source: the fretting hand lets go just after the stroke; at fast tempi the
# stroke is shorter than that and the hand lets go sooner.
CHOKE_S = 0.11
CHOKE_SHARE = 0.45
# A dead stroke is a click: the fingers rest on the strings before it sounds.
DEAD_S = 0.04

Clock = Callable[[Fraction], float]


@dataclass
class _Ringing:
    """A string that sounds: since when, at which fret, and the note it will become."""

    start_s: float
    fret: int
    pitch: int
    velocity: int
    bank: int


def string_channels(strings: int) -> tuple[int, ...]:
    """MIDI channels (0 to 15) of the strings, highest-numbered string first; never the drums'."""
    free = [channel for channel in range(16) if channel not in (9, 10, 11)]
    return tuple(free[:strings])


def string_notes(
    arrangement: Arrangement, clock: Clock, channels: tuple[int, ...], whole_s: float
) -> tuple[Note, ...]:
    """All notes of the strummed part, by time."""
    tempo_bpm = 60.0 / (whole_s * float(arrangement.beat))
    strings = [_String(channel) for channel in channels]
    for bar in arrangement.bars:
        strums = list(bar.strums)
        for change in bar.changes:
            at_s = clock(change.span.start)
            for string, held in zip(strings, _frets(change.shape, len(strings)), strict=True):
                string.hand_moves(at_s, held)
            while strums and strums[0].span.start in change.span:
                _strike(strums.pop(0), strings, clock, tempo_bpm)
    end_s = clock(arrangement.bars[-1].span.end)
    for string in strings:
        string.stop(end_s)
    notes = [note for string in strings for note in string.notes]
    return tuple(sorted(notes, key=lambda note: (note.start_s, note.channel)))


def _frets(shape: Shape | None, strings: int) -> tuple[int | None, ...]:
    return (None,) * strings if shape is None else shape.frets


def _strike(strum: Strum, strings: list[_String], clock: Clock, tempo_bpm: float) -> None:
    """One stroke: the plectrum meets the strings one after another."""
    start_s, end_s = clock(strum.span.start), clock(strum.span.end)
    if strum.manner == "rest":
        for string in strings:
            string.stop(start_s)
        return
    spread_s = spread_ms(strum.force, tempo_bpm, len(strum.strings)) / 1000
    spread_s = min(spread_s, (end_s - start_s) / 3)
    for order, index in enumerate(strum.strings):
        delay_s = spread_s * order / max(1, len(strum.strings) - 1)
        fret, pitch = strum.shape.frets[index], strum.shape.pitches[index]
        assert fret is not None, "only sounding strings are struck"
        assert pitch is not None, "only sounding strings are struck"
        string = strings[index]
        loud = tapered(strum.force, order)
        string.strike(_Ringing(start_s + delay_s, fret, pitch, loud, BANKS[strum.sound]))
        if strum.sound == "dead":
            string.stop(start_s + delay_s + min(DEAD_S, (end_s - start_s) / 2))
        elif strum.sound == "choked" and fret > 0:
            string.stop(start_s + spread_s + min(CHOKE_S, (end_s - start_s) * CHOKE_SHARE))


class _String:
    """One string and the notes it has sounded."""

    def __init__(self, channel: int) -> None:
        self.channel = channel
        self.ringing: _Ringing | None = None
        self.notes: list[Note] = []

    def strike(self, new: _Ringing) -> None:
        self.stop(new.start_s)
        self.ringing = new

    def hand_moves(self, at_s: float, fret: int | None) -> None:
        """The left hand takes its next shape: a string at another fret is stopped."""
        if self.ringing is not None and self.ringing.fret != fret:
            self.stop(at_s)

    def stop(self, at_s: float) -> None:
        if self.ringing is None:
            return
        ring, self.ringing = self.ringing, None
        if at_s > ring.start_s:
            self.notes.append(
                Note(ring.start_s, at_s, ring.pitch, ring.velocity, self.channel, ring.bank)
            )
