"""Chords: what a chord symbol on a lead sheet asks a player to sound.

Conventions: a `Tone` counts `semitones` above the root, within an octave and a half as the degree
says (9 is 14 semitones). Degrees are written "1" "b3" "3" "4" "b5" "5" "#5" "6" "b7" "7" "9" "11"
"13" ..., "bb7" in a diminished seventh. Essential tones must sound; the others may be left out, in
`drop_order`, first the one that is missed least.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, get_args

from accomp.harmony.pitch import Spelling

NO_CHORD = "N.C."  # as it stands on paper where nobody plays chords
_SILENCE = re.compile(r"\(?\s*(n\.?\s?c\.?|no chord|none)\s*\)?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Tone:
    """One tone of a chord: its `degree`, `semitones` above the root, its `spelling`."""

    degree: str
    semitones: int
    spelling: Spelling
    essential: bool

    @property
    def pc(self) -> int:
        """Pitch class of the tone, 0 to 11."""
        return self.spelling.pc


DegreeAction = Literal["add", "alter", "subtract"]
DEGREE_ACTIONS: tuple[DegreeAction, ...] = get_args(DegreeAction)


@dataclass(frozen=True, slots=True)
class Alteration:
    """A MusicXML `degree`: what is done to it, by so many semitones.

    Of an added degree `alter` counts from a dominant chord (an added 7 with alter 0 is the minor
    seventh), of an altered one from what the kind has: MusicXML 4.0, `degree-alter`.
    """

    action: DegreeAction
    degree: int
    alter: int


@dataclass(frozen=True, eq=False)
class Chord:
    """A chord symbol understood.

    `symbol` is the text as it came ("B♭°7"), without a bass that is the root ("Bdim7/B"); two
    chords are equal when their symbols are. `kind` is a MusicXML 4.0 kind-value, `alterations` what
    the symbol changes in it, `suffix` the text between root and bass. `drop_order` holds the
    degrees that may be left out, first the one missed least.
    """

    symbol: str
    root: Spelling
    suffix: str
    kind: str
    alterations: tuple[Alteration, ...]
    tones: tuple[Tone, ...]
    drop_order: tuple[str, ...]
    bass: Spelling | None = None

    def __str__(self) -> str:
        return self.symbol

    def __repr__(self) -> str:
        return f"<Chord {self.symbol}>"

    # By symbol alone, because chords are the keys of every plan and a symbol says all the rest.
    def __eq__(self, other: object) -> bool:
        return isinstance(other, Chord) and self.symbol == other.symbol

    def __hash__(self) -> int:
        return hash(self.symbol)

    @cached_property
    def by_pc(self) -> dict[int, Tone]:
        """The tone that each sounding pitch class is (the bass note of `F/G` is not among them)."""
        return {tone.pc: tone for tone in self.tones}

    @cached_property
    def degrees(self) -> frozenset[str]:
        """The degrees of all its tones."""
        return frozenset(tone.degree for tone in self.tones)

    @cached_property
    def essential_pcs(self) -> frozenset[int]:
        """Pitch classes without which it is another chord."""
        return frozenset(tone.pc for tone in self.tones if tone.essential)

    def degree_of(self, midi: int) -> str | None:
        """The degree that MIDI note `midi` is in this chord, None when it is no tone of it."""
        tone = self.by_pc.get(midi % 12)
        return tone.degree if tone else None


def says_no_chord(text: str) -> bool:
    """Whether a text is one of the usual spellings of N.C.: "NC", "(n.c.)", "no chord" ..."""
    return _SILENCE.fullmatch(text) is not None
