"""Degrees: how far above the root a tone lies, and which letter it takes.

Conventions: a degree is written as musicians say it, "b3", "#11", "bb7": its number counts letter
names from the root (1), its sign is against the major scale on the root, so that "7" is 11
semitones and "b7" 10. Numbers above 7 lie in the second octave ("9" is 14 semitones).
"""

from __future__ import annotations

from dataclasses import dataclass

from accomp.harmony.pitch import ACCIDENTALS, MAJOR_SCALE, SIGNS, Interval


@dataclass(frozen=True, slots=True, order=True)
class Degree:
    """A degree: `number` of letter names from the root, `alter` in semitones."""

    number: int
    alter: int = 0

    @classmethod
    def parse(cls, text: str) -> Degree:
        """Read "b7". Raises `ValueError` when the text is no degree."""
        number = text.lstrip("b#")
        sign = text[: len(text) - len(number)]
        if sign not in ACCIDENTALS or not number.isascii() or not number.isdigit() or number == "0":
            raise ValueError(f"{text!r} is not a degree: expected a number, as 3, b7 or #11")
        return cls(int(number), ACCIDENTALS[sign])

    def __str__(self) -> str:
        return f"{SIGNS[self.alter]}{self.number}"

    @property
    def semitones(self) -> int:
        """Semitones above the root."""
        octaves, step = divmod(self.number - 1, 7)
        return 12 * octaves + MAJOR_SCALE[step] + self.alter

    @property
    def interval(self) -> Interval:
        """The interval from the root up to this degree."""
        return Interval(self.number - 1, self.semitones)


def degrees(text: str) -> tuple[Degree, ...]:
    """Read "1 b3 5 b7"."""
    return tuple(Degree.parse(word) for word in text.split())
