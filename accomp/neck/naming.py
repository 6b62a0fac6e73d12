"""The trade's words for degrees, strings, frets and fingers.

Conventions: words are lower case and without article; strings are numbered as players do, 1 the
first (nearest the floor).
"""

from __future__ import annotations

import re
from typing import Any

from accomp.neck.fingering import Frets

_DEGREES = {
    "1": "root", "2": "second", "3": "third", "4": "fourth", "5": "fifth", "6": "sixth",
    "7": "seventh", "9": "ninth", "11": "eleventh", "13": "thirteenth",
}  # fmt: skip
_ORDINALS = (
    "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth",
    "eleventh", "twelfth",
)  # fmt: skip
_NUMBERS = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
)  # fmt: skip
_FINGERS = ("no finger", "index", "middle", "ring", "little")


def degree_name(degree: str) -> str:
    """ "b7" is the seventh, "1" the root."""
    number = degree.lstrip("b#")
    return _DEGREES.get(number, number)


def top_name(degree: str) -> str:
    """What a position with this degree on top is called by: "root" in "root-top"."""
    return degree_name(degree)


def string_name(number: int) -> str:
    """1 is the first string."""
    return f"{ordinal(number)} string"


def ordinal(number: int) -> str:
    """1 is first."""
    return _ORDINALS[number - 1] if number <= len(_ORDINALS) else f"{number}th"


def number_word(number: int) -> str:
    """2 is two."""
    return _NUMBERS[number] if number < len(_NUMBERS) else str(number)


def frets_word(count: int) -> str:
    """1 is one fret, 2 are two frets."""
    return f"{number_word(count)} fret{'' if count == 1 else 's'}"


def finger_name(finger: int) -> str:
    """1 is the index finger's name."""
    return _FINGERS[finger]


def frets_text(frets: Frets) -> str:
    """A shape as players write it: "0 2 3 3", x for a string that is not sounded."""
    return " ".join("x" if fret is None else str(fret) for fret in frets)


def read_frets(value: Any, strings: int) -> Frets | None:
    """Read "0 2 3 3" or [0, 2, 3, 3] for an instrument of so many strings; None when it is none."""
    if isinstance(value, str):
        words = value.split()
        if not all(re.fullmatch(r"x|\d{1,2}", word) for word in words):
            return None
        frets: Frets = tuple(None if word == "x" else int(word) for word in words)
    elif isinstance(value, list):
        if not all(isinstance(one, int) and not isinstance(one, bool) for one in value):
            return None
        if not all(0 <= one <= 99 for one in value):
            return None
        frets = tuple(value)
    else:
        return None
    return frets if len(frets) == strings and any(fret is not None for fret in frets) else None


def join(words: list[str]) -> str:
    """A list as one says it: "C, F and G7"."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
