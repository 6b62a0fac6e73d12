"""What a band player does: roles, sounds and chords at places in a pattern.

Conventions: times are exact fractions of a whole note from the start of the pattern, which repeats
without end, before its start too.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from math import lcm

from accomp.time import Span


@dataclass(frozen=True, slots=True)
class BandNote:
    """A place where a band player sounds: a bass role ("root", "fifth", "approach" ...), the name
    of a General MIDI percussion sound, or what a comping player strikes ("chord", "shell"), with a
    force, at a place in the pattern. `sound` is "long" (to the player's next note) or "short"
    (half of that)."""

    start: Fraction
    what: str
    force: str = "plain"
    sound: str = "long"


@dataclass(frozen=True, slots=True)
class BandPattern:
    """A band player's places over `length` (whole notes), repeated without end.

    `player` is the General MIDI word of the sound ("acoustic-bass"), empty for drums. A `free` bass
    may begin a chord on another note than its root.
    """

    length: Fraction
    notes: tuple[BandNote, ...]
    player: str = ""
    free: bool = False

    def during(self, span: Span) -> tuple[tuple[Span, BandNote], ...]:
        """The notes that begin in `span`, each with the time to the next place at which the same
        player does something, cut at the end of `span`."""
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
