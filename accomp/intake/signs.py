"""The meaning of signs and words of a lead sheet, the same for MusicXML and ABC.

Conventions: `fifths` counts sharps; flats are negative. A church mode becomes the major or minor
key on its tonic that has the third of the mode; the signature then differs by one or two signs.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Literal, get_args

from accomp.files.values import one_of
from accomp.harmony import Key, Spelling
from accomp.harmony.key import LETTERS_BY_FIFTH
from accomp.intake.numbers import NUMBER_WORD, read_whole
from accomp.intake.written import JumpSign
from accomp.time import METERS, MOST_CHORUSES, Meter

_DA_CAPO = re.compile(r"\b(d\.?\s?c\.?|da\s?capo)(?![a-z])", re.IGNORECASE)
_DAL_SEGNO = re.compile(r"\b(d\.?\s?s\.?|dal\s?segno)(?![a-z])", re.IGNORECASE)
_TO_CODA = re.compile(r"\bto\s+(the\s+)?coda\b", re.IGNORECASE)
_FINE = re.compile(r"\s*fine\.?\s*", re.IGNORECASE)
_THROUGH = re.compile(rf"\b({NUMBER_WORD}) x through\b")
_CHORUS = re.compile(rf"\bChorus(?:es {NUMBER_WORD} to)? ({NUMBER_WORD})\b")
_ENDINGS = re.compile(rf"({NUMBER_WORD})(?:\s*-\s*({NUMBER_WORD}))?")
_LONGEST = 400  # characters of words or of a bracket's text that are searched
Mode = Literal[
    "major", "ionian", "minor", "aeolian", "dorian", "phrygian", "locrian", "lydian", "mixolydian"
]
_MODES: tuple[Mode, ...] = get_args(Mode)
_MINOR_MODES: tuple[Mode, ...] = ("minor", "aeolian", "dorian", "phrygian", "locrian")
# How many fifths the signature of a mode lies from that of the major or minor key on its tonic.
MODE_FIFTHS: dict[Mode, int] = {
    "dorian": 1, "phrygian": -1, "locrian": -2, "lydian": 1, "mixolydian": -1
}  # fmt: skip


def jump_of(words: str) -> JumpSign:
    """The jump back that words ask for."""
    if _DAL_SEGNO.search(words):
        return "D.S."
    return "D.C." if _DA_CAPO.search(words) else ""


def says_fine(words: str) -> bool:
    """Whether words mark the fine itself, and do not only name it ("D.C. al Fine")."""
    return _FINE.fullmatch(words) is not None


def times_said(words: str, line: int) -> int:
    """How often the form is played by words such as "5 x through"; 0 without them.

    Raises `WrongNumberError`.
    """
    said = None if _CHORUS.search(words[:_LONGEST]) else _THROUGH.search(words[:_LONGEST])
    return read_whole(said[1], "the times through", 1, MOST_CHORUSES, line=line) if said else 0


def chorus_number(words: str, line: int) -> int:
    """The chorus that words name: 2 for "Chorus 2", 4 for "Choruses 2 to 4"; 0 without them.

    Raises `WrongNumberError`.
    """
    said = _CHORUS.search(words[:_LONGEST])
    return read_whole(said[1], "the chorus", 1, MOST_CHORUSES, line=line) if said else 0


def says_to_coda(words: str) -> bool:
    """Whether words send the player to the coda after a jump back."""
    return _TO_CODA.search(words) is not None and not jump_of(words)


def ending_numbers(text: str, line: int = 0) -> frozenset[int]:
    """The numbers of an ending's bracket ("1", "1, 2", "1-3"); {1} when there is none.

    Raises `WrongNumberError`.
    """
    numbers: set[int] = set()
    for first, last in _ENDINGS.findall(text[:_LONGEST]):
        lower = read_whole(first, "an ending", 0, 99, line=line)
        upper = read_whole(last, "an ending", 0, 99, line=line) if last else lower
        numbers |= set(range(lower, upper + 1))
    return frozenset(numbers - {0}) or frozenset({1})


def bar_length(meter: str) -> Fraction:
    """The length of a full bar; a whole note in free meter and in a meter that is not known."""
    return Meter.parse(meter).bar if meter in METERS else Fraction(1)


def mode_of(word: str) -> Mode:
    """The mode that a word names; "major" for an unknown word."""
    return one_of(word.strip().lower(), _MODES) or "major"


def key_of_signature(fifths: int, mode: Mode) -> Key | None:
    """The key of a signature and mode, None when no key has this signature."""
    minor = mode in _MINOR_MODES
    own = fifths - MODE_FIFTHS.get(mode, 0)
    if not -7 <= own <= 7:
        return None
    fifths = own + (3 if minor else 0) + 1  # of the tonic on the line of fifths, from F
    return Key(Spelling(LETTERS_BY_FIFTH[fifths % 7], fifths // 7), minor)


def key_of_mode(tonic: Spelling, mode: Mode) -> tuple[Key, int]:
    """The key on `tonic` for a mode, and the mode's own signature in fifths.

    Raises `ValueError` when the key has no signature.
    """
    key = Key(tonic, mode in _MINOR_MODES)
    if not -7 <= key.fifths <= 7:
        raise ValueError(f"{key} has no key signature")
    return key, key.fifths + MODE_FIFTHS.get(mode, 0)
