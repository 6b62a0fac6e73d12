"""Rhythm slashes: the strokes' rhythm on the middle line, under chord symbols.

Conventions: a slash is a note like any other to a program that reads the file, so that it gets the
pitch of the middle line as the key signature has it, and no accidental.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from accomp.harmony import Key, Pitch
from accomp.score.written import Clef, Event, WrittenNote

_MIDDLE = {"G": ("B", 4), "F": ("D", 3)}


def slashed(events: Sequence[Event], clef: Clef, key: Key) -> tuple[Event, ...]:
    """The same rhythm with one slash for each chord."""
    step, octave = _MIDDLE[clef.sign]
    name = next(name for name in key.scale if name.step == step)
    note = WrittenNote(Pitch(name, octave + clef.octave))
    return tuple(replace(event, notes=(note,)) if event.notes else event for event in events)
