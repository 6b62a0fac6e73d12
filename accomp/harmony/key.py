"""Keys: tonic, mode, signature, and how a key spells a sound.

Conventions: `fifths` is the key signature as in MIDI and MusicXML, flats negative, -7 to 7.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from accomp.errors import KeyNameError, Problem
from accomp.harmony.pitch import LETTERS, Interval, Letter, Spelling

LETTERS_BY_FIFTH: tuple[Letter, ...] = ("F", "C", "G", "D", "A", "E", "B")
# Position of each natural letter on the line of fifths, C = 0.
_LINE = {letter: fifth for fifth, letter in enumerate(LETTERS_BY_FIFTH, -1)}

ALL_MAJOR = tuple("C Db D Eb E F Gb G Ab A Bb B".split())
ALL_MINOR = tuple(f"{name}m" for name in "C C# D Eb E F F# G G# A Bb B".split())

_NAME = re.compile(r"([A-G][b#♭♯]?)(m|min|minor| minor| major)?")


@dataclass(frozen=True, slots=True)
class Key:
    """A major or minor key, e.g. `Key.parse("F#")`, `Key.parse("Dm")`."""

    tonic: Spelling
    minor: bool = False

    @classmethod
    def parse(cls, text: str) -> Key:
        """Read "Bb" or "F#m". Raises `KeyNameError` for anything without a signature (D#, Gbm)."""
        key = _named(text)
        if key is None:
            message = f"{text!r} is not a key: expected a name as F, Bb, F# or Dm."
            raise KeyNameError(Problem(message, found=text))
        if not key.has_signature:
            message = f"{text!r} has no key signature: it would need {abs(key.fifths)} signs."
            raise KeyNameError(Problem(message, found=text))
        return key

    def __str__(self) -> str:
        return f"{self.tonic}{'m' if self.minor else ''}"

    @property
    def fifths(self) -> int:
        """Sharps (positive) or flats (negative) in the signature."""
        return _LINE[self.tonic.step] + 7 * self.tonic.alter - (3 if self.minor else 0)

    @property
    def has_signature(self) -> bool:
        """Whether it needs no more than the seven signs that a signature can have."""
        return -7 <= self.fifths <= 7

    @property
    def with_signature(self) -> Key:
        """This key, under the name that has a signature: E flat for D sharp."""
        if self.has_signature:
            return self
        keys = map(Key.parse, ALL_MINOR if self.minor else ALL_MAJOR)
        return next(key for key in keys if key.tonic.pc == self.tonic.pc)

    @property
    def scale(self) -> tuple[Spelling, ...]:
        """The seven names of the signature, from the tonic up (natural minor)."""
        order = [_spelling_at(fifth) for fifth in range(self.fifths - 1, self.fifths + 6)]
        start = LETTERS.index(self.tonic.step)
        return tuple(sorted(order, key=lambda name: (LETTERS.index(name.step) - start) % 7))

    def spell(self, pc: int) -> Spelling:
        """The usual name of pitch class `pc` in this key: the signature's own, else the nearest."""
        centre = self.fifths + 2  # middle of the seven names of the signature on the line of fifths
        places = [fifth for fifth in range(-15, 20) if _spelling_at(fifth).pc == pc % 12]
        return _spelling_at(min(places, key=lambda fifth: (abs(fifth - centre), -fifth)))

    def interval_to(self, other: Key) -> Interval:
        """The interval that carries this key's tonic up to the other's (0 to 11 semitones)."""
        return self.tonic.to(other.tonic)


def enharmonic_key(text: str) -> Key | None:
    """The same key under a name with a signature, for the name of one that has none: E flat for
    "D#". None for any other text."""
    key = _named(text)
    return None if key is None or key.has_signature else key.with_signature


def _named(text: str) -> Key | None:
    """The key of a name, with or without a signature; None when the text is no such name."""
    match = _NAME.fullmatch(text)
    if match is None:
        return None
    return Key(Spelling.parse(match[1]), bool(match[2]) and "major" not in match[2])


def _spelling_at(fifth: int) -> Spelling:
    """The name `fifth` places along the line of fifths from C."""
    return Spelling(LETTERS_BY_FIFTH[(fifth + 1) % 7], (fifth + 1) // 7)
