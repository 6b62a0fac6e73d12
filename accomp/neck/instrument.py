"""Fretted instruments: tuning, frets, scale length.

Conventions: strings are listed as shapes are written, from the highest-numbered string to the
first (tenor banjo C3 G3 D4 A4: fourth to first); index 0 is therefore the highest-numbered string.
Lengths are in mm. Fret 0 is the nut (an open string).
"""

from __future__ import annotations

from dataclasses import dataclass

from accomp.harmony import Pitch

USUAL_PROGRAM = 106  # of General MIDI: a banjo


@dataclass(frozen=True, slots=True)
class Instrument:
    """One instrument.

    `octave` is how many octaves above its sound it is written (1: treble clef with a small 8
    below); `program` the General MIDI program, 1 to 128; `courses` how many strings lie side by
    side in each course (2 on a mandolin); `sounding` the least number of strings a shape sounds;
    `notices` whole sentences on what its file leaves to the program.
    """

    name: str
    title: str
    strings: tuple[Pitch, ...]
    frets: int
    scale_mm: float
    octave: int = 1
    program: int = USUAL_PROGRAM
    courses: int = 1
    sounding: int = 4
    notices: tuple[str, ...] = ()

    def __repr__(self) -> str:
        strings = " ".join(map(str, self.strings))
        return f"<Instrument {self.name}: {strings}, {self.frets} frets>"

    @property
    def open_pitches(self) -> tuple[int, ...]:
        """MIDI numbers of the open strings, highest-numbered string first."""
        return tuple(pitch.midi for pitch in self.strings)

    def string_number(self, index: int) -> int:
        """A player's number (1 = first string) for the string at `index` of a shape."""
        return len(self.strings) - index

    def fret_mm(self, fret: int) -> float:
        """Distance of a fret from the nut, L·(1 − 2^(−n/12)), in mm (equal temperament)."""
        return float(self.scale_mm * (1.0 - 2.0 ** (-fret / 12.0)))


def written_at(octave: int) -> str:
    """Where an instrument is written, by how many octaves that is above its sound."""
    if octave == 0:
        return "at pitch"
    many = "an octave" if abs(octave) == 1 else f"{abs(octave)} octaves"
    return f"{many} {'above' if octave > 0 else 'below'} its sound"
