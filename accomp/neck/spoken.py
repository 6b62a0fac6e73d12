"""A chord's name in a key: the number a band says aloud, and the numeral that is written.

Conventions: numbers count the key's own scale (natural minor in a minor key); a root beside the
scale is flat or sharp of the number of its letter. Numerals are upper case for chords with a major
third (or none), lower case with a minor one.
"""

from __future__ import annotations

from accomp.harmony import Alteration, Chord, Key, Spelling
from accomp.neck.naming import number_word

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


def numeral(chord: Chord, key: Key) -> str:
    """What is written: "V7", "ii7", "bVII"."""
    number, alter = _number(chord.root, key)
    minor = any(tone.degree == "b3" for tone in chord.tones)
    text = _NUMERALS[number - 1].lower() if minor else _NUMERALS[number - 1]
    suffix = chord.suffix
    for minor_sign in ("minor", "min", "mi", "m", "-"):
        if minor and suffix.startswith(minor_sign) and not suffix.startswith("maj"):
            suffix = suffix[len(minor_sign) :]
            break
    bass = "" if chord.bass is None else f"/{chord.bass}"
    return {-1: "b", 0: "", 1: "#"}.get(alter, "") + text + suffix + bass


def spoken(chord: Chord, key: Key) -> str:
    """What is said: "five seven", "two minor seven", "flat seven"."""
    number, alter = _number(chord.root, key)
    words = [{-1: "flat", 0: "", 1: "sharp"}.get(alter, ""), number_word(number)]
    words.append(_KINDS.get(chord.kind, chord.kind))
    words += [_alteration(one) for one in chord.alterations]
    if chord.bass is not None:
        words.append(f"over {_sign_words(chord.bass)}")
    return " ".join(word for word in words if word)


def _number(root: Spelling, key: Key) -> tuple[int, int]:
    """Number of a root in the scale of the key, 1 to 7, and how far beside it, in semitones."""
    steps = key.tonic.to(root).steps
    own = key.scale[steps]
    return steps + 1, root.alter - own.alter


def _alteration(one: Alteration) -> str:
    sign = {-2: "double flat", -1: "flat", 0: "", 1: "sharp"}.get(one.alter, "")
    verb = {"add": "add", "subtract": "no", "alter": ""}[one.action]
    if one.action == "add" and sign:
        verb = ""
    return " ".join(word for word in (verb, sign, number_word(one.degree)) if word)


def _sign_words(name: Spelling) -> str:
    return (
        name.step
        + {-2: " double flat", -1: " flat", 0: "", 1: " sharp", 2: " double sharp"}[name.alter]
    )
