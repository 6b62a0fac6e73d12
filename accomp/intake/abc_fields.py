"""Fields of an ABC tune (meter, unit, tempo, key, parts) and its chord symbols.

Conventions: ABC 2.1 (abcnotation.com/wiki/abc:standard:v2.1). Lengths are fractions of a whole
note, tempo is whole notes a minute. ABC 2.1 has the bass of a chord in capitals; older collections
write it in small letters, and some write its sharp as "+" and its flat as "-". Alternatives in
brackets are left out, with a notice.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from accomp.errors import ChordError
from accomp.harmony import Key, Spelling, parse_chord, says_no_chord
from accomp.intake.numbers import FASTEST, NUMBER_WORD, read_number, read_whole
from accomp.intake.signs import Mode, bar_length, key_of_mode

_MODES: dict[str, Mode] = {
    "": "major",
    "maj": "major",
    "ion": "major",
    "m": "minor",
    "min": "minor",
    "aeo": "aeolian",
    "dor": "dorian",
    "phr": "phrygian",
    "lyd": "lydian",
    "mix": "mixolydian",
    "loc": "locrian",
}
_KEY = re.compile(r"([A-G])([#b♯♭]?)\s*(m(?![a-z])|[A-Za-z]{3,})?")
_PIPES = re.compile(r"H[Pp]\b")
_MOST_PARTS = 500
_QUOTED = re.compile(r'"[^"]*"')
_RATIO = rf"{NUMBER_WORD}\s*/\s*{NUMBER_WORD}"
_TEMPO = re.compile(rf"(?:((?:{_RATIO}\s*)+)=|C[0-9]?\s*=)?\s*({NUMBER_WORD})")
_LOWER = "the lower number of a note length"
FINEST_NOTE = 512  # parts of a whole note, or of the unit

_SMALL_BASS = re.compile(r"(.+)/\s*([A-Ga-g])([#b♯♭+-]?)\s*")
_ALTERNATIVE = re.compile(r"([^\s(;]+)\s*[(;]\s*([A-G][^\s()]*)\)?\s*")
_IN_BRACKETS = re.compile(r"\(([^()]+)\)")
_LONGEST = 80  # characters, far more than a chord symbol with an alternative needs
_BASS_SIGNS = {"+": "#", "-": "b"}


@dataclass(frozen=True, slots=True)
class AbcKey:
    """A `K:` field: the `key` it is taken as, `fifths` of the written signature, and a notice."""

    key: Key
    fifths: int
    notice: str = ""


def read_key(text: str) -> AbcKey:
    """The value of a `K:` field."""
    plain = Key(Spelling("C"))
    match = _KEY.match(text.strip())
    if _PIPES.match(text.strip()):
        return AbcKey(Key(Spelling("D")), 2, "the pipes' signature is taken as D")
    if match is None:
        said = "" if text.strip() in ("", "C") else "no key is given; C is taken"
        return AbcKey(plain, 0, said)
    word = (match[3] or "").lower()
    word = word[:3] if len(word) > 1 else word
    rest = text.strip()[match.end() :]
    if word not in _MODES:  # "K:G clef=bass" has no mode
        word, rest = "", text.strip()[match.end(2) :]
    mode = _MODES[word]
    tonic = Spelling.parse(match[1] + match[2])
    try:
        key, fifths = key_of_mode(tonic, mode)
    except ValueError as error:
        return AbcKey(plain, 0, f"{error}; C is taken")
    notices = []
    if fifths != key.fifths:
        notices.append(f"its mode is {mode}; the key is taken as {key}")
    if re.search(r"(^|\s)([_=^]{1,2}[a-g])", rest) or re.search(r"\bexp\b", rest):
        notices.append("signs of its own in the key signature are not taken over")
    return AbcKey(key, fifths, "; ".join(notices))


def read_meter(text: str) -> str:
    """The value of an `M:` field as "4/4"; "" for free meter."""
    word = text.strip()
    if word in ("C", "c"):
        return "4/4"
    if word in ("C|", "c|"):
        return "2/2"
    if word.lower() in ("none", ""):
        return ""
    return "".join(word.split())[:20]


def read_unit(text: str) -> Fraction | None:
    """The value of an `L:` field; None when it is empty. Raises `WrongNumberError`."""
    return _length(text) if text.strip() else None


def _length(text: str) -> Fraction:
    """A length as "3/8" or "1"."""
    upper, _, lower = text.partition("/")
    parts = Fraction(read_whole(upper, "the upper number of a note length", 1, 512))
    return parts / read_whole(lower if "/" in text else "1", _LOWER, 1, FINEST_NOTE)


def usual_unit(meter: str) -> Fraction:
    """The unit note length without an `L:` field: a sixteenth below 3/4, else an eighth."""
    return Fraction(1, 16) if bar_length(meter) < Fraction(3, 4) else Fraction(1, 8)


def read_tempo(text: str, beat: Fraction) -> Fraction | None:
    """The value of a `Q:` field in whole notes a minute, None when it is not understood.

    A bare number counts `beat`s (in whole notes). Raises `WrongNumberError`.
    """
    words = _QUOTED.sub(" ", text)
    match = _TEMPO.fullmatch(words.strip())
    if match is None:
        return None  # "Lively", "100-110"
    if match[1]:
        lengths = "/".join(part.strip() for part in match[1].split("/")).split()
        beat = sum(map(_length, lengths), Fraction(0))
    return beat * read_number(match[2], "the tempo", 0, FASTEST) or None


def read_parts(text: str) -> tuple[str, ...] | None:
    """The order of parts of a header's `P:` field ("A2(BC)2" is A A B C B C), None if it is none.

    Raises `WrongNumberError`.
    """
    code = re.sub(r"[\s.,]", "", text)
    if not re.fullmatch(r"[A-Z0-9()]*", code):
        return None
    stack: list[list[str]] = [[]]
    for word in re.findall(r"[A-Z]\d*|\(|\)\d*", code):
        if word == "(":
            stack.append([])
            continue
        times = read_whole(word[1:] or "1", "how often a part is played", 0, 99)
        if word[0] == ")":
            if len(stack) == 1:
                return None
            names = stack.pop()
        else:
            names = [word[0]]
        stack[-1] += names * times
        if len(stack[-1]) > _MOST_PARTS:
            return None
    return tuple(stack[0]) if len(stack) == 1 else None


@lru_cache(maxsize=4096)
def abc_symbol(text: str) -> tuple[str | None, str]:
    """The chord symbol in a text (None for N.C., "" for no symbol) and a notice ("" for none)."""
    if says_no_chord(text):
        return None, ""
    if len(text) > _LONGEST:
        return "", f"{text[:40]!r} ... is no chord symbol and is left out"
    found = _read(text)
    if found:
        return found, ""
    if (brackets := _IN_BRACKETS.fullmatch(text)) and (found := _read(brackets[1])):
        return found, ""
    if (match := _ALTERNATIVE.fullmatch(text)) and (found := _read(match[1])):
        return found, f"{match[2]} is only an alternative to {match[1]} and is left out"
    shown = " ".join(text.split())
    return "", f"{shown[:40]!r} is no chord symbol and is left out; the chord before it goes on"


def _read(text: str) -> str:
    """The symbol in our own spelling, "" for a text that is no symbol."""
    word = "".join(text.split())
    candidates = [word]
    if match := _SMALL_BASS.fullmatch(word):
        sign = _BASS_SIGNS.get(match[3], match[3])
        candidates.append(f"{match[1]}/{match[2].upper()}{sign}")
    for candidate in candidates:
        try:
            return str(parse_chord(candidate))
        except ChordError:
            continue
    return ""
