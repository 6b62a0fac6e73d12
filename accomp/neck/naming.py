"""The trade's words for degrees, strings, frets and fingers, and for a chord's place in a key.

Conventions: words are lower case and without article; strings are numbered as players do, 1 the
first (nearest the floor). A chord in a key has a number that a band says aloud and a numeral that
is written. Numbers count the key's own scale (natural minor in a minor key); a root beside the
scale is flat or sharp of the number of its letter. Numerals are upper case for chords with a major
third (or none), lower case with a minor one. The bass of a slash chord has a number, too, written
in figures ("I/5", "one over five"), so that it is no chord of its own.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from accomp.files.text import ORDINALS
from accomp.harmony import Alteration, Chord, Key, Spelling
from accomp.harmony.pitch import SIGNS
from accomp.neck.fingering import Frets

_DEGREES = {
    "1": "root", "2": "second", "3": "third", "4": "fourth", "5": "fifth", "6": "sixth",
    "7": "seventh", "9": "ninth", "11": "eleventh", "13": "thirteenth",
}  # fmt: skip
_NUMBERS = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
)  # fmt: skip
_FINGERS = ("no finger", "index", "middle", "ring", "little")
_NUMERALS = ("I", "II", "III", "IV", "V", "VI", "VII")
_KINDS = {
    "major": "", "minor": "minor", "augmented": "augmented", "diminished": "diminished",
    "dominant": "seven", "major-seventh": "major seven", "minor-seventh": "minor seven",
    "diminished-seventh": "diminished seven", "augmented-seventh": "augmented seven",
    "half-diminished": "half-diminished", "major-minor": "minor, major seven",
    "major-sixth": "six", "minor-sixth": "minor six", "dominant-ninth": "nine",
    "major-ninth": "major nine", "minor-ninth": "minor nine", "dominant-11th": "eleven",
    "major-11th": "major eleven", "minor-11th": "minor eleven", "dominant-13th": "thirteen",
    "major-13th": "major thirteen", "minor-13th": "minor thirteen",
    "suspended-second": "suspended second", "suspended-fourth": "suspended fourth",
    "power": "power chord",
}  # fmt: skip

_SAID = {-2: "double flat", -1: "flat", 1: "sharp", 2: "double sharp"}
_STACKED = {7: "seven", 9: "nine", 11: "eleven", 13: "thirteen"}


def degree_name(degree: str) -> str:
    """ "b7" is the seventh, "1" the root."""
    number = degree.lstrip("b#")
    return _DEGREES.get(number, number)


def left_out(degrees: Iterable[str | None], chord: Chord) -> tuple[str, ...]:
    """The tones that a shape with these degrees leaves out, and why nobody misses them."""
    sounding = set(degrees)
    words = []
    for degree in (tone.degree for tone in chord.tones if tone.degree not in sounding):
        why = {"1": "the bass has it", "5": "it is missed least"}.get(degree, "it may be left out")
        words.append(f"no {degree_name(degree)}: {why}")
    return tuple(words)


def string_name(number: int) -> str:
    """1 is the first string."""
    return f"{ordinal(number)} string"


def ordinal(number: int) -> str:
    """1 is first."""
    return ORDINALS[number - 1] if number <= len(ORDINALS) else f"{number}th"


def number_word(number: int) -> str:
    """2 is two."""
    return _NUMBERS[number] if number < len(_NUMBERS) else str(number)


def frets_word(count: int) -> str:
    """1 is one fret, 2 are two frets."""
    return f"{number_word(count)} fret{'' if count == 1 else 's'}"


def finger_name(finger: int) -> str:
    """1 is the index finger's name."""
    return _FINGERS[finger]


def read_frets(value: Any, strings: int) -> Frets | None:
    """Read "0 2 3 3" or [0, 2, 3, 3] for an instrument of so many strings; None for all else."""
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


def numeral(chord: Chord, key: Key) -> str:
    """The numeral, as it is written: "V7", "ii7", "bVII"."""
    number, alter = _number(chord.root, key)
    minor = "b3" in chord.degrees
    text = _NUMERALS[number - 1].lower() if minor else _NUMERALS[number - 1]
    suffix = chord.suffix
    for minor_sign in ("minor", "min", "mi", "m", "-"):
        if minor and suffix.startswith(minor_sign) and not suffix.startswith("maj"):
            suffix = suffix[len(minor_sign) :]
            break
    bass = ""
    if chord.bass is not None:
        below, beside = _number(chord.bass, key)
        bass = f"/{SIGNS.get(beside, '')}{below}"
    return SIGNS.get(alter, "") + text + suffix + bass


def spoken(chord: Chord, key: Key) -> str:
    """The number, as it is said: "five seven", "two minor seven", "flat seven"."""
    words = [_number_said(chord.root, key), kind_said(chord)]
    if chord.bass is not None:
        words.append(f"over {_number_said(chord.bass, key)}")
    return " ".join(word for word in words if word)


def kind_said(chord: Chord) -> str:
    """The words after a chord's root, without a bass: "minor seven"."""
    kind, rest = _kind(chord)
    return " ".join(word for word in (kind, *map(_alteration, rest)) if word)


def _kind(chord: Chord) -> tuple[str, list[Alteration]]:
    """The kind, and what is said after it: "C9sus4" is "nine suspended fourth"."""
    kind, alterations = _KINDS.get(chord.kind, chord.kind), list(chord.alterations)
    added = {one.degree: one for one in alterations if one.action == "add"}
    if not chord.kind.startswith("suspended") or 7 not in added:
        return kind, alterations
    major = "major " if added[7].alter else ""
    stacked = [added[7], *(one for one in added.values() if one.degree > 7 and not one.alter)]
    top = max(one.degree for one in stacked)
    return f"{major}{_STACKED[top]} {kind}", [one for one in alterations if one not in stacked]


def _number(root: Spelling, key: Key) -> tuple[int, int]:
    """Number of a root in the scale of the key, 1 to 7, and how far beside it, in semitones."""
    steps = key.tonic.to(root).steps
    own = key.scale[steps]
    return steps + 1, root.alter - own.alter


def _number_said(root: Spelling, key: Key) -> str:
    number, alter = _number(root, key)
    return f"{_SAID.get(alter, '')} {number_word(number)}".strip()


def _alteration(one: Alteration) -> str:
    sign = _SAID.get(one.alter, "")
    verb = {"add": "add", "subtract": "no", "alter": ""}[one.action]
    if one.action == "add" and sign:
        verb = ""
    return " ".join(word for word in (verb, sign, number_word(one.degree)) if word)
