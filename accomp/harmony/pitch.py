"""Pitches and their names.

Conventions: MIDI 60 = C4 = middle C. A `Spelling` is a name without octave ("Bb"); its `alter` is
in semitones (-1 flat, +1 sharp). Names are written in ASCII (`b`, `#`); the real signs ♭ ♯ are read
too. An `Interval` counts letter names (`steps`) and semitones apart, so that the fourth above B
flat is E flat and not D sharp.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal, cast, get_args

Letter = Literal["C", "D", "E", "F", "G", "A", "B"]
LETTERS: tuple[Letter, ...] = get_args(Letter)
MAJOR_SCALE = (0, 2, 4, 5, 7, 9, 11)  # in semitones; the letters from C on are one
_NATURAL = dict(zip(LETTERS, MAJOR_SCALE, strict=True))
ACCIDENTALS = {"": 0, "b": -1, "bb": -2, "#": 1, "##": 2}
# By semitones; what a note and a degree are written with.
SIGNS = {alter: sign for sign, alter in ACCIDENTALS.items()}
REAL_SIGNS = str.maketrans("b#", "♭♯")
_NAME = re.compile(r"([A-G])(bb|##|b|#)?")


@dataclass(frozen=True, slots=True)
class Interval:
    """A distance upward: `steps` letter names and `semitones` (both may be negative)."""

    steps: int
    semitones: int

    def __neg__(self) -> Interval:
        return Interval(-self.steps, -self.semitones)


@dataclass(frozen=True, slots=True)
class Spelling:
    """A note name without octave: a letter `step` and `alter` in semitones, -2 to 2."""

    step: Letter
    alter: int = 0

    @classmethod
    def parse(cls, text: str) -> Spelling:
        """Read "Bb" or "F♯". Raises `ValueError` when the text is no note name."""
        match = _NAME.fullmatch(text.replace("♭", "b").replace("♯", "#"))
        if match is None:
            raise ValueError(f"{text!r} is not a note name: expected A to G, then b, # or nothing")
        return cls(cast(Letter, match[1]), ACCIDENTALS[match[2] or ""])

    def __str__(self) -> str:
        return self.step + SIGNS[self.alter]

    @property
    def pc(self) -> int:
        """Pitch class, 0 (C) to 11 (B)."""
        return (_NATURAL[self.step] + self.alter) % 12

    def up(self, interval: Interval) -> Spelling:
        """The name an interval higher; beyond a double accidental, the nearest plainer name."""
        index = LETTERS.index(self.step) + interval.steps
        step = LETTERS[index % 7]
        pc = (self.pc + interval.semitones) % 12
        alter = (pc - _NATURAL[step] + 6) % 12 - 6
        while not -2 <= alter <= 2:
            index += 1 if alter > 0 else -1
            step = LETTERS[index % 7]
            alter = (pc - _NATURAL[step] + 6) % 12 - 6
        return Spelling(step, alter)

    def to(self, other: Spelling) -> Interval:
        """The interval from this name up to the next `other` (0 to 6 steps, 0 to 11 semitones)."""
        steps = (LETTERS.index(other.step) - LETTERS.index(self.step)) % 7
        return Interval(steps, (other.pc - self.pc) % 12)

    @property
    def plain(self) -> Spelling:
        """The same sound without a double accidental: F## is G, Bbb is A."""
        if abs(self.alter) < 2:
            return self
        return self.up(Interval(1 if self.alter > 0 else -1, 0))


@dataclass(frozen=True, slots=True)
class Pitch:
    """A name in an octave: C4 is middle C, B3 the note below it, Cb4 sounds as B3."""

    spelling: Spelling
    octave: int

    @classmethod
    def parse(cls, text: str) -> Pitch:
        """Read "Eb4". Raises `ValueError` when the text is no pitch."""
        match = re.fullmatch(r"(.*?)(-?\d)", text)
        if match is None:
            raise ValueError(f"{text!r} is not a pitch: expected a note name and an octave, as C3")
        return cls(Spelling.parse(match[1]), int(match[2]))

    @classmethod
    def spelled(cls, midi: int, spelling: Spelling) -> Pitch:
        """MIDI number `midi` under the given name (they must agree)."""
        if (midi - spelling.pc) % 12:
            raise ValueError(f"{spelling} cannot spell MIDI note {midi}")
        return cls(spelling, (midi - _NATURAL[spelling.step] - spelling.alter) // 12 - 1)

    def __str__(self) -> str:
        return f"{self.spelling}{self.octave}"

    @property
    def midi(self) -> int:
        """MIDI note number, 60 for C4."""
        return 12 * (self.octave + 1) + _NATURAL[self.spelling.step] + self.spelling.alter
