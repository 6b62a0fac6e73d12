"""Pitch, key, and chord symbols to tones with degrees. Knows nothing of strings, bars or files."""

from accomp.harmony.chord import NO_CHORD, Alteration, Chord, Tone, says_no_chord
from accomp.harmony.key import ALL_MAJOR, ALL_MINOR, Key, enharmonic_key
from accomp.harmony.kind import unsounded
from accomp.harmony.naming import symbol_from_kind
from accomp.harmony.pitch import Interval, Pitch, Spelling
from accomp.harmony.suffix import join_symbol
from accomp.harmony.symbol import parse_chord
from accomp.harmony.transpose import transpose_chord

__all__ = [
    "ALL_MAJOR",
    "ALL_MINOR",
    "NO_CHORD",
    "Alteration",
    "Chord",
    "Interval",
    "Key",
    "Pitch",
    "Spelling",
    "Tone",
    "enharmonic_key",
    "join_symbol",
    "parse_chord",
    "says_no_chord",
    "symbol_from_kind",
    "transpose_chord",
    "unsounded",
]
