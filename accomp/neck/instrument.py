"""Fretted instruments: tuning, frets, scale length.

Conventions: strings are listed as shapes are written, from the highest-numbered string to the
first (tenor banjo C3 G3 D4 A4: fourth to first); index 0 is therefore the highest-numbered string.
Lengths are in mm. Fret 0 is the nut (an open string).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
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

    def stretch_mm(self, frets: Iterable[int | None]) -> float:
        """Distance between the outer fretted notes of a row of frets, in mm; 0 with none."""
        fretted = [fret for fret in frets if fret]
        return self.fret_mm(max(fretted)) - self.fret_mm(min(fretted)) if fretted else 0.0

    def pitches(self, frets: Sequence[int | None]) -> tuple[int | None, ...]:
        """MIDI numbers that a row of frets sounds, None for a string that is not sounded."""
        return tuple(
            None if fret is None else pitch + fret
            for pitch, fret in zip(self.open_pitches, frets, strict=True)
        )


def written_at(octave: int) -> str:
    """Where an instrument is written, by how many octaves that is above its sound."""
    if octave == 0:
        return "at pitch"
    many = "an octave" if abs(octave) == 1 else f"{abs(octave)} octaves"
    return f"{many} {'above' if octave > 0 else 'below'} its sound"
