"""Patterns: the right hand's strokes, and the notes of a band player.

Conventions: a pattern repeats without end, before its own start, too; times are exact fractions of
a whole note, spans half-open. Every operation returns a new pattern.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from itertools import pairwise
from math import lcm

from accomp.rhythm.stroke import ForceStep, Stroke
from accomp.time import Span


class NoteLength(StrEnum):
    """How long a band player holds a note."""

    LONG = "long"  # to the player's next note
    SHORT = "short"  # half of that
    STOP = "stop"  # a quarter of it: struck and stopped


_SOUNDING = {
    NoteLength.LONG: Fraction(1),
    NoteLength.SHORT: Fraction(1, 2),
    NoteLength.STOP: Fraction(1, 4),
}


def sounding_share(span: Span, length: NoteLength) -> Span:
    """The part of a span, the time to the next note, in which a note of this length sounds."""
    return Span(span.start, span.start + span.duration * _SOUNDING[length])


class Approach(StrEnum):
    """Which notes a bass may use to lead into the next one."""

    CHROMATIC = "chromatic"  # a half step below or above, whatever the key
    SCALE = "scale"  # a note of the key or of the chord, as folk dances have it


@dataclass(frozen=True, slots=True)
class BandNote:
    """A note of a band player, at `start` in the pattern.

    `what` is a bass role ("root", "fifth", "approach" ...), the name of a General MIDI percussion
    sound, or what a comping player strikes ("chord", "shell").
    """

    start: Fraction
    what: str
    force: ForceStep = ForceStep.PLAIN
    sound: NoteLength = NoteLength.LONG


@dataclass(frozen=True, slots=True)
class BandPattern:
    """A band player's notes over `length` (whole notes), repeated without end.

    `player` is the General MIDI word of the sound ("acoustic-bass"), for drums what the drummer
    holds ("sticks"). A `free` bass may begin a chord on another note than its root; `approach` says
    what its approach notes are.
    """

    length: Fraction
    notes: tuple[BandNote, ...]
    player: str = ""
    free: bool = False
    approach: Approach = Approach.CHROMATIC

    def during(self, span: Span) -> tuple[tuple[Span, BandNote], ...]:
        """The notes that begin in `span`, each with the time to the next one (or to the end)."""
        starts = []
        turn = span.start // self.length
        while self.notes and turn * self.length < span.end:
            for note in self.notes:
                start = turn * self.length + note.start
                if start in span:
                    starts.append((start, note))
            turn += 1
        found: list[tuple[Span, BandNote]] = []
        end = following = span.end
        for start, note in reversed(starts):
            if start < end:
                following, end = end, start
            found.append((Span(start, following), note))
        return tuple(reversed(found))

    def shifted(self, by: Fraction) -> BandPattern:
        """The same notes `by` later (earlier when negative)."""
        moved = [replace(note, start=(note.start + by) % self.length) for note in self.notes]
        return replace(self, notes=tuple(sorted(moved, key=lambda note: note.start)))

    def layered(self, over: BandPattern) -> BandPattern:
        """Both at once; where both have the same sound at one place, that of `over` is kept."""
        length = common_length(self.length, over.length)
        notes = {
            (start, note.what): replace(note, start=start)
            for pattern in (self, over)
            for turn in range(int(length / pattern.length))
            for note in pattern.notes
            for start in (turn * pattern.length + note.start,)
        }
        return replace(self, length=length, notes=tuple(notes[key] for key in sorted(notes)))


def common_length(first: Fraction, second: Fraction) -> Fraction:
    """The shortest length that holds both a whole number of times."""
    return Fraction(
        lcm(first.numerator * second.denominator, second.numerator * first.denominator),
        first.denominator * second.denominator,
    )


@dataclass(frozen=True, slots=True)
class Pattern:
    """Strokes over `length` (whole notes), in order, repeated without end.

    Every stroke begins inside the length; the last may end in the next turn.
    """

    length: Fraction
    strokes: tuple[Stroke, ...]

    def __post_init__(self) -> None:
        if self.length <= 0:
            raise ValueError(f"a pattern needs a length above zero, not {self.length}")

    def during(self, span: Span) -> Iterator[Stroke]:
        """The strokes that begin in `span`, each cut at its end."""
        turn = span.start // self.length
        while turn * self.length < span.end:
            for stroke in self.strokes:
                whole = stroke.span.shifted(turn * self.length)
                if whole.start in span:
                    kept = whole.cut(span)
                    assert kept is not None
                    yield replace(stroke, span=kept)
            turn += 1

    def shifted(self, by: Fraction) -> Pattern:
        """The same strokes `by` later (earlier when negative)."""
        moved = []
        for stroke in self.strokes:
            start = (stroke.start + by) % self.length
            moved.append(replace(stroke, span=Span(start, start + stroke.span.duration)))
        return Pattern(self.length, tuple(sorted(moved, key=lambda stroke: stroke.start)))

    def layered(self, over: Pattern) -> Pattern:
        """Both at once, `over` winning where both strike; each stroke lasts to the next."""
        length = common_length(self.length, over.length)
        whole = Span(Fraction(0), length)
        strokes = {stroke.start: stroke for stroke in self.during(whole)}
        strokes |= {stroke.start: stroke for stroke in over.during(whole)}
        edges = [*sorted(strokes), length]
        return Pattern(
            length,
            tuple(
                replace(strokes[start], span=Span(start, min(strokes[start].span.end, following)))
                for start, following in pairwise(edges)
            ),
        )
