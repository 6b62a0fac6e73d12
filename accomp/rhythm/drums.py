"""Drum patterns as General MIDI percussion keys.

Conventions: spans are score time from where the pattern begins (fractions of a whole note); a hit
has no length of its own, so its span runs to the next place in the pattern.
"""

from __future__ import annotations

from dataclasses import dataclass

from accomp.rhythm.band import BandPattern
from accomp.rhythm.general_midi import percussion_key
from accomp.time import Span


@dataclass(frozen=True, slots=True)
class Hit:
    """One drum hit: General MIDI percussion `key` (35 to 81), `force`."""

    span: Span
    key: int
    force: str


def drum_hits(span: Span, pattern: BandPattern) -> tuple[Hit, ...]:
    """The hits that begin in `span` of a drum pattern, in order."""
    return tuple(
        Hit(part, percussion_key(note.what), note.force) for part, note in pattern.during(span)
    )
