"""Which accidentals are printed.

Conventions: an accidental holds for its line or space (letter and octave) up to the bar line; the
key signature holds in every octave. A note tied over needs no new sign.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from accomp.harmony import Key
from accomp.score.written import Event


def with_accidentals(key: Key, events: Sequence[Event]) -> tuple[Event, ...]:
    """The events of one measure in `key`, each note with the sign it needs."""
    signature = {name.step: name.alter for name in key.scale}
    said: dict[tuple[str, int], int] = {}
    out = []
    for event in events:
        notes = []
        for note in event.notes:
            spelling = note.pitch.spelling
            place = (spelling.step, note.pitch.octave)
            if spelling.alter != said.get(place, signature[spelling.step]) and not event.tied_from:
                note = replace(note, accidental=spelling.alter)
                said[place] = spelling.alter
            notes.append(note)
        out.append(replace(event, notes=tuple(notes)) if notes else event)
    return tuple(out)
