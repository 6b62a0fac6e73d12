"""The meters, their beats, their spoken counts and their shares of a bar.

Conventions: durations are exact `Fraction`s of a whole note. The *beat* (for tempo and count-in)
is the half in 2/2 and 3/2, the quarter in 2/4 3/4 4/4 5/4, the dotted quarter in 3/8 6/8 9/8
12/8, the dotted half in 6/4. The *count* is what a player says aloud: one number for each unit of
the lower figure (6/8 is counted 1 to 6), `&` half-way between.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from accomp.files import values

# meter: (beat as a fraction of a whole note, how many tokens a bar of a tune file may hold)
_TABLE: dict[str, tuple[Fraction, tuple[int, ...]]] = {
    "2/2": (Fraction(1, 2), (1, 2, 4)),
    "3/2": (Fraction(1, 2), (1, 3, 6)),
    "2/4": (Fraction(1, 4), (1, 2, 4)),
    "3/4": (Fraction(1, 4), (1, 3, 6)),
    "4/4": (Fraction(1, 4), (1, 2, 4, 8)),
    "5/4": (Fraction(1, 4), (1, 5, 10)),
    "6/4": (Fraction(3, 4), (1, 2, 3, 6, 12)),
    "3/8": (Fraction(3, 8), (1, 3)),
    "6/8": (Fraction(3, 8), (1, 2, 6)),
    "9/8": (Fraction(3, 8), (1, 3, 9)),
    "12/8": (Fraction(3, 8), (1, 2, 4, 12)),
}

METERS: tuple[str, ...] = tuple(_TABLE)


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature, e.g. `Meter.parse("6/8")`: `count` 6 of the `unit` 1/8."""

    count: int
    unit: Fraction

    @classmethod
    def parse(cls, text: str) -> Meter:
        """Read "6/8". Raises `ValueError` for anything that is not in `METERS`."""
        if text not in _TABLE:
            raise ValueError(f"{text!r} is not a meter: expected one of {', '.join(METERS)}")
        count, lower = text.split("/")
        return cls(int(count), Fraction(1, int(lower)))

    def __str__(self) -> str:
        return f"{self.count}/{self.unit.denominator}"

    @property
    def bar(self) -> Fraction:
        """Length of a bar."""
        return self.count * self.unit

    @property
    def beat(self) -> Fraction:
        """Length of the beat that tempo and count-in use."""
        return _TABLE[str(self)][0]

    @property
    def beats(self) -> int:
        """Beats in a bar: 4 in 4/4, 2 in 6/8."""
        return int(self.bar / self.beat)

    @property
    def compound(self) -> bool:
        """Whether the beat divides in three."""
        return self.beat.numerator == 3

    @property
    def shares(self) -> tuple[int, ...]:
        """How many tokens a bar of a tune file may hold."""
        return _TABLE[str(self)][1]


def _known(text: str) -> Meter:
    if text not in METERS and re.fullmatch("[0-9]+/[0-9]+", text):
        # The meter with the most similar text is quite another one, so that none is suggested.
        raise values.WrongValueError("Choose one of these.")
    return Meter.parse(text)


# A meter in a file.
METER = values.parsed(_known, f"a meter in quotes, one of {', '.join(METERS)}", "4/4", known=METERS)
