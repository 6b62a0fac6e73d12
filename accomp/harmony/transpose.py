"""Chord symbols in another key.

Conventions: the suffix stays as written; root and bass move by letter names and semitones, and
lose a double accidental where one would arise (F## becomes G). New flats and sharps are real signs
(♭ ♯) where the symbol had real ones.
"""

from __future__ import annotations

from accomp.harmony.chord import Chord
from accomp.harmony.pitch import Interval, Spelling
from accomp.harmony.symbol import parse_chord

_REAL = str.maketrans("b#", "♭♯")


def transpose_chord(chord: Chord, interval: Interval, real_signs: bool | None = None) -> Chord:
    """The chord an interval higher (lower with a negative one).

    `real_signs` True or False writes ♭ ♯ or b # whatever the symbol had.
    """
    if real_signs is None:
        real_signs = "♭" in chord.symbol or "♯" in chord.symbol
    symbol = _name(chord.root, interval, real_signs) + chord.suffix
    if chord.bass is not None:
        symbol += f"/{_name(chord.bass, interval, real_signs)}"
    return parse_chord(symbol)


def _name(note: Spelling, interval: Interval, real_signs: bool) -> str:
    name = str(note.up(interval).plain)
    return name.translate(_REAL) if real_signs else name
