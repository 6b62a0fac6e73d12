"""Chord symbols in another key.

Conventions: root and bass move by letter names and semitones, and lose a double accidental where
one would arise (F## becomes G). The suffix stays as written, but gets brackets where its first sign
would be read as the new root's: Bb#5 is B(#5) a half step higher. New flats and sharps are
real signs (♭ ♯) where the symbol had real ones.
"""

from __future__ import annotations

from accomp.harmony.chord import Chord
from accomp.harmony.pitch import REAL_SIGNS, Interval, Spelling
from accomp.harmony.suffix import join_symbol
from accomp.harmony.symbol import read_symbol


def transpose_chord(chord: Chord, interval: Interval, real_signs: bool | None = None) -> Chord:
    """The chord an interval higher (lower with a negative one).

    `real_signs` True or False writes ♭ ♯ or b # whatever the symbol had.
    """
    if real_signs is None:
        if interval == Interval(0, 0):
            return chord
        real_signs = "♭" in chord.symbol or "♯" in chord.symbol
    root = _name(chord.root, interval, real_signs)
    bass = "" if chord.bass is None else _name(chord.bass, interval, real_signs)
    return read_symbol(join_symbol(root, chord.suffix, bass))


def _name(note: Spelling, interval: Interval, real_signs: bool) -> str:
    name = str(note.up(interval).plain)
    return name.translate(REAL_SIGNS) if real_signs else name
