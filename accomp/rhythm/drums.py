"""Drum patterns as General MIDI percussion keys.

Conventions: spans are score time from where the pattern begins (fractions of a whole note); a hit
has no length of its own, so its span runs to the next place in the pattern.
"""

from __future__ import annotations

from dataclasses import dataclass

from accomp.rhythm.general_midi import percussion_key
from accomp.rhythm.style import BandNote, BandPattern
from accomp.time import Span


@dataclass(frozen=True, slots=True)
class Hit:
    """One drum hit: General MIDI percussion `key` (35 to 81), `force`."""

    span: Span
    key: int
    force: str


def notes_during(span: Span, pattern: BandPattern) -> tuple[tuple[Span, BandNote], ...]:
    """The notes that begin in `span` (counted from the pattern's start), each with the time to the
    next place at which the same player does something, cut at the end of `span`."""
    found: list[tuple[Span, BandNote]] = []
    turn = span.start // pattern.length
    starts = []
    while pattern.notes and turn * pattern.length < span.end:
        for note in pattern.notes:
            start = turn * pattern.length + note.start
            if start in span:
                starts.append((start, note))
        turn += 1
    end = span.end
    following = end
    for start, note in reversed(starts):
        if start < end:
            following, end = end, start
        found.append((Span(start, following), note))
    return tuple(reversed(found))


def drum_hits(span: Span, pattern: BandPattern) -> tuple[Hit, ...]:
    """The hits that begin in `span` of a drum pattern, in order."""
    return tuple(
        Hit(part, percussion_key(note.what), note.force)
        for part, note in notes_during(span, pattern)
    )
