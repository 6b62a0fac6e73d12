"""The symbols that a line of ABC music is made of.

Conventions: ABC 2.1. Lengths are fractions of a whole note; a length after a note multiplies the
unit, so that "3/2" is one and a half units, "/" half of one and "//" a quarter.
"""

from __future__ import annotations

import re
from fractions import Fraction

from accomp.harmony import Pitch, Spelling

_LENGTH = r"(\d*)(/*)(\d*)"
SYMBOLS = re.compile(
    "|".join(
        (
            r"\[(?P<field>[A-Za-z]):(?P<value>[^\]\[]*)\]",
            r'"(?P<text>[^"]*)"',
            r"!(?P<sign>[^!|]*)!",
            r"(?P<grace>\{[^}{]*\})",
            r"(?P<bar>\[\|[|:\]]*|[|:]+\]?[|:]*)(?P<after>\d[\d,-]*)?",
            r"\[(?P<ending>\d[\d,-]*)",
            r"\((?P<tuplet>\d)(?::(?P<q>\d?)(?::(?P<r>\d?))?)?",
            rf"\[(?P<chord>[^\]\[|]*)\](?P<chord_length>{_LENGTH})",
            rf"(?P<note>[_^=]{{0,2}}[A-Ga-g][,']*)(?P<note_length>{_LENGTH})",
            rf"(?P<rest>[zx])(?P<rest_length>{_LENGTH})",
            r"(?P<rest_bars>[ZX])(?P<count>\d*)",
            r"(?P<broken>[<>]{1,3})",
            r"(?P<tie>-)",
            r"(?P<overlay>&)",
            r"(?P<letter>[OS])",
            r"y\d*|.",
        )
    ),
    re.DOTALL,
)
NOTE = re.compile(rf"([_^=]{{0,2}})([A-Ga-g])([,']*)({_LENGTH})")
_ALTERS = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0, "==": 0}
_TIMES = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
_COMPOUND = ("3/8", "6/8", "9/8", "12/8", "6/4")


def length_of(text: str, unit: Fraction) -> Fraction:
    """What a length after a note makes of the unit."""
    match = re.fullmatch(_LENGTH, text)
    if match is None:
        return unit
    upper = int(match[1][:4] or 1)
    lower = int(match[3][:4] or 0) if match[2] else 1
    if match[2] and not lower:
        lower = 2 ** min(len(match[2]), 8)
    return unit * Fraction(upper, lower)


def tuplet_of(match: re.Match[str], meter: str) -> tuple[Fraction, int]:
    """What a tuplet sign multiplies lengths by, and for how many notes."""
    count = int(match["tuplet"])
    usual = _TIMES.get(count, 3 if meter in _COMPOUND else 2)
    time_of = int(match["q"] or 0) or usual
    return Fraction(time_of, count or 1), int(match["r"] or 0) or count


class Pitches:
    """Names notes by the signature and by the accidentals since the bar line.

    An accidental counts in all octaves (ABC 2.1, propagate-accidentals).
    """

    def __init__(self) -> None:
        self.signature: dict[str, int] = {}
        self.accidentals: dict[str, int] = {}

    def sign(self, fifths: int) -> None:
        """A new key signature."""
        sharps, flats = "FCGDAEB"[: max(0, fifths)], "BEADGCF"[: max(0, -fifths)]
        self.signature = dict.fromkeys(sharps, 1) | dict.fromkeys(flats, -1)

    def bar_line(self) -> None:
        """Accidentals end."""
        self.accidentals = {}

    def pitch(self, note: re.Match[str]) -> Pitch | None:
        """The pitch of a match of `NOTE`, None when no instrument plays it."""
        step = note[2].upper()
        octave = (5 if note[2].islower() else 4) + note[3].count("'") - note[3].count(",")
        if note[1] in _ALTERS:
            self.accidentals[step] = _ALTERS[note[1]]
        alter = self.accidentals.get(step, self.signature.get(step, 0))
        pitch = Pitch(Spelling(step, alter), octave)
        return pitch if 0 <= pitch.midi <= 127 else None
