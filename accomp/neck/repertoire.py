"""Repertoires: the few shapes that a player knows.

Conventions: frets run from the highest-numbered string to the first. A *movable* shape slides
along the neck; where it has open strings the index finger stops them (0 0 2 3 becomes 2 2 4 5).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from accomp.files.text import one_line, toml_string
from accomp.harmony import Chord, Pitch
from accomp.neck.fingering import Frets
from accomp.neck.naming import frets_text, top_name


@dataclass(frozen=True)
class RepertoireShape:
    """One shape that the player knows: `name` is its family's ("third-top")."""

    name: str
    chord: Chord
    frets: Frets
    movable: bool

    def places(self, root_pc: int, frets: int) -> Iterator[Frets]:
        """The shape with its root on another pitch class, wherever a neck of `frets` has room."""
        stopped = [fret for fret in self.frets if fret is not None]
        away = (root_pc - self.chord.root.pc) % 12
        if not self.movable:
            if away == 0 and max(stopped) <= frets:
                yield self.frets
            return
        for shift in range(away - 12 * ((min(stopped) + away) // 12), frets + 1, 12):
            if max(stopped) + shift <= frets:
                yield tuple(None if fret is None else fret + shift for fret in self.frets)


@dataclass(frozen=True)
class Repertoire:
    """The shapes a player knows on one tuning; `proposed` when the program chose them."""

    title: str
    strings: tuple[Pitch, ...]
    shapes: tuple[RepertoireShape, ...]
    proposed: bool = False

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Names of the families, in order."""
        return tuple(shape.name for shape in self.shapes)

    def text(self) -> str:
        """The repertoire as a file that can be read and edited."""
        strings = ", ".join(f'"{pitch}"' for pitch in self.strings)
        lines = [
            "# Shapes a player knows, one [[shape]] each: chord, frets from the highest-numbered",
            "# string to the first (x = not sounded), and whether it may be moved along the neck",
            "# (open strings are then stopped by the index finger).",
            "",
            f"title   = {toml_string(one_line(self.title))}",
            f"strings = [{strings}]",
        ]
        for shape in self.shapes:
            lines += [
                "",
                "[[shape]]",
                f"name    = {toml_string(one_line(shape.name))}",
                f"chord   = {toml_string(one_line(shape.chord.symbol))}",
                f'frets   = "{frets_text(shape.frets)}"',
                f"movable = {str(shape.movable).lower()}",
            ]
        return "\n".join(lines) + "\n"


def family_name(frets: Frets, chord: Chord, strings: tuple[Pitch, ...], movable: bool) -> str:
    """The name of a family: the degree on top, and the kind of chord when it is not major.

    A shape that does not move is called by its chord.
    """
    pitches = [p.midi + fret for p, fret in zip(strings, frets, strict=True) if fret is not None]
    degree = chord.degree_of(max(pitches))
    assert degree is not None
    if not movable:
        return f"open {chord}" if 0 in frets else f"{chord} in its place"
    return f"{top_name(degree)}-top" + (f" {chord.suffix}" if chord.suffix else "")
