"""The melody beside a tune, as a line to play along with.

Conventions: times are exact fractions of a whole note from the first full bar of one time through
the form, a pickup before zero; pitches are MIDI numbers of the sound.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from accomp.harmony import Key
from accomp.time import Span


@dataclass(frozen=True, slots=True)
class MelodyNote:
    """One note, ties reckoned in."""

    span: Span
    pitch: int


def transpose_melody(notes: Iterable[MelodyNote], key: Key, other: Key) -> tuple[MelodyNote, ...]:
    """The melody in another key, by the shorter way: at most a tritone up or five down."""
    up = key.interval_to(other).semitones
    by = up - 12 if up > 6 else up
    return tuple(replace(note, pitch=note.pitch + by) for note in notes)
