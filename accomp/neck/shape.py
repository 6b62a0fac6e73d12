"""A shape: where the left hand stands for one chord.

Conventions: tuples run from the highest-numbered string to the first. `None` is a string that is
not sounded, fret 0 an open one. Fingers are 1 (index) to 4 (little), 0 where no finger stands.
The top note is the highest pitch, whatever its string.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass
from functools import cached_property

from accomp.files.text import frets_text
from accomp.harmony.degree import Degree
from accomp.outward import Pictured

Grip = tuple[int | None, ...]

_TRIADS = ((0, 3, 7), (0, 4, 7))


def grip_of(frets: Sequence[int | None]) -> Grip:
    """Frets relative to each other, the lowest counting as 0."""
    low = min(fret for fret in frets if fret is not None)
    return tuple(None if fret is None else fret - low for fret in frets)


def another_triad(pcs: Set[int], root_pc: int) -> bool:
    """Whether these are just the tones of a major or minor triad on another root.

    That is what a listener hears unless somebody else has the root: C for Am7, Em for Cmaj7.
    """
    return len(pcs) == len(_TRIADS[0]) and any(
        all((root + step) % 12 in pcs for step in triad)
        for root in pcs - {root_pc}
        for triad in _TRIADS
    )


@dataclass(frozen=True)
class Shape(Pictured):
    """One playable shape; two shapes are equal when they sound the same strings at the same frets
    as the same degrees with the same fingers.

    `barre` is the fret at which one finger stops two or more strings (the lowest such fret), or
    None. `pitches` are MIDI numbers, `degrees` those of the chord the shape was made for.
    `stretch_mm` is the distance between the outer fretted notes.
    """

    frets: tuple[int | None, ...]
    fingers: tuple[int, ...]
    barre: int | None
    pitches: tuple[int | None, ...]
    degrees: tuple[str | None, ...]
    stretch_mm: float
    rootless: bool

    def __str__(self) -> str:
        return frets_text(self.frets)

    def __repr__(self) -> str:
        return f"<Shape {self}>"

    @cached_property
    def fretted(self) -> tuple[int, ...]:
        """The frets that a finger stops, lowest-string order, open strings left out."""
        return tuple(fret for fret in self.frets if fret)

    @cached_property
    def grip(self) -> Grip:
        """Its frets relative to each other: what all shapes of one family share, whatever chord
        they are taken for. An open string counts as a fret, the one that the index finger stops
        where the shape has moved."""
        return grip_of(self.frets)

    @cached_property
    def root_pc(self) -> int:
        """Pitch class of the root of the chord the shape was made for, sounding or not."""
        pitch, degree = next(
            (pitch, degree)
            for pitch, degree in zip(self.pitches, self.degrees, strict=True)
            if pitch is not None and degree is not None
        )
        return (pitch - Degree.parse(degree).semitones) % 12

    @cached_property
    def stops(self) -> tuple[tuple[int, tuple[int, ...]], ...]:
        """Each finger that stands on the board with the indices of the strings it stops."""
        used = sorted({finger for finger in self.fingers if finger})
        return tuple(
            (finger, tuple(i for i, one in enumerate(self.fingers) if one == finger))
            for finger in used
        )

    @cached_property
    def voices(self) -> tuple[int, ...]:
        """MIDI numbers of the sounding notes, highest first."""
        sounding = [pitch for pitch in self.pitches if pitch is not None]
        return tuple(sorted(sounding, reverse=True))

    @property
    def open(self) -> bool:
        """Whether a sounding string is open, so that the hand can neither choke nor slide it."""
        return 0 in self.frets

    @cached_property
    def lowest_fret(self) -> int:
        """The lowest fretted fret (where the index finger is), 0 when nothing is fretted."""
        return min(self.fretted, default=0)

    @cached_property
    def highest_fret(self) -> int:
        """The highest fretted fret, 0 when nothing is fretted."""
        return max(self.fretted, default=0)

    @cached_property
    def top_index(self) -> int:
        """Index of the string with the highest pitch (the later one of two equals)."""
        sounding = [(p, i) for i, p in enumerate(self.pitches) if p is not None]
        return max(sounding)[1]

    @cached_property
    def top_pitch(self) -> int:
        """MIDI number of the highest note."""
        pitch = self.pitches[self.top_index]
        assert pitch is not None
        return pitch

    @property
    def top(self) -> str:
        """Degree of the highest note."""
        degree = self.degrees[self.top_index]
        assert degree is not None
        return degree
