"""What the signs and words of a lead sheet mean, whatever file they come from.

Conventions: `fifths` counts sharps, flats negative. A church mode becomes the major or minor key on
its tonic, whichever has the third of the mode; the signature then differs by a sign or two.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Literal, get_args

from accomp.files.values import one_of
from accomp.harmony import Key, Spelling
from accomp.harmony.key import LETTERS_BY_FIFTH
from accomp.intake.numbers import NUMBER_WORD, read_whole
from accomp.intake.written import Jump
from accomp.time import METERS, MOST_CHORUSES, Meter

_DA_CAPO = re.compile(r"\b(d\.?\s?c\.?|da\s?capo)(?![a-z])", re.IGNORECASE)
_DAL_SEGNO = re.compile(r"\b(d\.?\s?s\.?|dal\s?segno)(?![a-z])", re.IGNORECASE)
_TO_CODA = re.compile(r"\bto\s+(the\s+)?coda\b", re.IGNORECASE)
_FINE = re.compile(r"\s*fine\.?\s*", re.IGNORECASE)
_THROUGH = re.compile(rf"\b({NUMBER_WORD}) x through\b")
_CHORUS = re.compile(rf"\bChorus(?:es {NUMBER_WORD} to)? ({NUMBER_WORD})\b")
_ENDINGS = re.compile(rf"({NUMBER_WORD})(?:\s*-\s*({NUMBER_WORD}))?")
_LONGEST = 400  # characters of what stands over a bracket
Mode = Literal[
    "major", "ionian", "minor", "aeolian", "dorian", "phrygian", "locrian", "lydian", "mixolydian"
]
_MODES: tuple[Mode, ...] = get_args(Mode)
_MINOR_MODES: tuple[Mode, ...] = ("minor", "aeolian", "dorian", "phrygian", "locrian")
# How many fifths the signature of a mode lies from that of the major or minor key on its tonic.
MODE_FIFTHS: dict[Mode, int] = {
    "dorian": 1, "phrygian": -1, "locrian": -2, "lydian": 1, "mixolydian": -1
}  # fmt: skip


def jump_of(words: str) -> Jump:
    """Where words send the player back to."""
    if _DAL_SEGNO.search(words):
        return "D.S."
    return "D.C." if _DA_CAPO.search(words) else ""


def says_fine(words: str) -> bool:
    """Whether words are the end of a da capo, and not an instruction that names it."""
    return _FINE.fullmatch(words) is not None


def times_said(words: str, line: int = 0) -> int:
    """How often "5 x through" says that the form is played, 0 where nothing is said.

    Raises `WrongNumberError`.
    """
    said = None if _CHORUS.search(words[:_LONGEST]) else _THROUGH.search(words[:_LONGEST])
    return read_whole(said[1], "the times through", 1, MOST_CHORUSES, line=line) if said else 0


def chorus_number(words: str, line: int = 0) -> int:
    """Which time through "Chorus 2", "Choruses 2 to 4" say that it is (the last), else 0.

    Raises `WrongNumberError`.
    """
    said = _CHORUS.search(words[:_LONGEST])
    return read_whole(said[1], "the chorus", 1, MOST_CHORUSES, line=line) if said else 0


def says_to_coda(words: str) -> bool:
    """Whether words send the player to the coda the second time."""
    return _TO_CODA.search(words) is not None and not jump_of(words)


def ending_numbers(text: str, line: int = 0) -> frozenset[int]:
    """The numbers over a bracket: "1", "1, 2", "1-3"; without any it is the first.

    Raises `WrongNumberError`.
    """
    numbers: set[int] = set()
    for first, last in _ENDINGS.findall(text[:_LONGEST]):
        lower = read_whole(first, "an ending", 0, 99, line=line)
        upper = read_whole(last, "an ending", 0, 99, line=line) if last else lower
        numbers |= set(range(lower, upper + 1))
    return frozenset(numbers - {0}) or frozenset({1})


def bar_length(meter: str) -> Fraction:
    """How long a full bar is; a whole note in free meter, and in one that nobody can play here."""
    return Meter.parse(meter).bar if meter in METERS else Fraction(1)


def mode_of(word: str) -> Mode:
    """The mode that a word names; major where it names none that is known."""
    return one_of(word.strip().lower(), _MODES) or "major"


def key_of_signature(fifths: int, mode: Mode) -> Key | None:
    """The key of a signature and mode, None when there is none."""
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
