"""Repertoires: the few shapes that a player knows, and the files that say them.

Conventions: see the head comment of any file in data/repertoires. Frets run from the
highest-numbered string to the first. A *movable* shape slides along the neck; where it has open
strings the index finger stops them (0 0 2 3 becomes 2 2 4 5).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path

from accomp.errors import ChordError
from accomp.files import data, values
from accomp.files.table import Table
from accomp.files.text import frets_text, word_list
from accomp.files.toml import quoted
from accomp.files.values import Value, WrongValueError, short
from accomp.harmony import Chord, Pitch, parse_chord
from accomp.neck.fingering import Frets
from accomp.neck.instrument import Instrument
from accomp.neck.naming import read_frets
from accomp.neck.read import MOST_STRINGS, PITCH


@dataclass(frozen=True)
class RepertoireShape:
    """A shape that the player knows; `name` is that of its family, see `family_name`.

    `new_elsewhere`: they know it in its own place only; moved, it has to be learnt.
    """

    name: str
    chord: Chord
    frets: Frets
    movable: bool
    new_elsewhere: bool = False

    def moved_to(self, root_pc: int, frets: int) -> Iterator[tuple[int, Frets]]:
        """The shape on another root, wherever a neck of `frets` has room for it.

        Each is a pair: how many frets up it has moved, and its frets.
        """
        stopped = [fret for fret in self.frets if fret is not None]
        away = (root_pc - self.chord.root.pc) % 12
        if not self.movable:
            if away == 0 and max(stopped) <= frets:
                yield 0, self.frets
            return
        for shift in range(away - 12 * ((min(stopped) + away) // 12), frets + 1, 12):
            if max(stopped) + shift <= frets:
                yield shift, tuple(f if f is None else f + shift for f in self.frets)


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
            "# (open strings are then stopped by the index finger); new_elsewhere: known in its",
            "# own place only, moved it has to be learnt.",
            "",
            f"title   = {quoted(self.title)}",
            f"strings = [{strings}]",
        ]
        for shape in self.shapes:
            named = shape.name != family_name(shape.chord, shape.frets)
            lines += [
                "",
                "[[shape]]",
                *([f"name    = {quoted(shape.name)}"] if named else []),
                f"chord   = {quoted(shape.chord.symbol)}",
                f'frets   = "{frets_text(shape.frets)}"',
                f"movable = {str(shape.movable).lower()}",
            ]
            if shape.new_elsewhere:
                lines.append("new_elsewhere = true")
        return "\n".join(lines) + "\n"


def family_name(chord: Chord, frets: Frets) -> str:
    """The name of a family that has none of its own: the chord and the frets of its shape.

    It is never the degree on top, which names positions.
    """
    return f"{chord} {frets_text(frets)}"


@lru_cache(maxsize=64)
def find_repertoire(instrument: Instrument) -> Repertoire | None:
    """The data file for this instrument or, failing that, for its tuning; None without one."""
    path = data.find("repertoires", instrument.name)
    paths = [path] if path else []
    paths += [
        file for name in data.names("repertoires") if (file := data.find("repertoires", name))
    ]
    for file in paths:
        repertoire = read_repertoire(file)
        if repertoire.strings == instrument.strings:
            return repertoire
    return None


def read_repertoire(path: Path, instrument: Instrument | None = None) -> Repertoire:
    """Read a repertoire file, for `instrument` when it is given.

    Raises `InputError` with every problem in it: a shape that is not its chord, a tuning that is
    not the instrument's, a chord that cannot be read.
    """
    table = Table.of(path)
    title = table.text("title", path.stem)
    strings = table.several("strings", PITCH, least=2, most=MOST_STRINGS)
    tuned = table.sound("strings")
    if instrument is not None and tuned and strings != instrument.strings:
        found, tuning = (" ".join(map(str, each)) for each in (strings, instrument.strings))
        table.wrong(
            f"this repertoire is not for {instrument.title}, tuned {tuning}.",
            "strings",
            found=found,
            expected=tuning,
            hint="Choose another repertoire or another instrument.",
        )
    shapes: list[RepertoireShape] = []
    for entry in table.tables("shape", 'chord = "C" and frets = "0 0 2 3"'):
        shape = _shape(entry, strings if tuned else (), shapes)
        if shape is not None:
            shapes.append(shape)
    table.check()
    return Repertoire(title, strings, tuple(shapes))


def _frets(strings: int) -> Value[Frets]:
    """Frets as a value of a file, for so many strings; 0 for any number of strings."""

    def take(found: object) -> Frets:
        words = found.split() if isinstance(found, str) else found
        if not isinstance(words, list):
            raise WrongValueError
        frets = read_frets(found, strings or len(words))
        if frets is None:
            raise WrongValueError
        return frets

    number = f"{strings} frets" if strings else "frets"
    return Value(f"{number} from the highest-numbered string to the first", take, '"0 0 2 3"')


def _shape(
    table: Table, strings: tuple[Pitch, ...], before: list[RepertoireShape]
) -> RepertoireShape | None:
    """The shape of a table; None after a problem, or where the tuning is not known."""
    chord = _chord(table)
    frets = table.get("frets", _frets(len(strings)), None, needed=True)
    movable = table.flag("movable", True)
    new_elsewhere = table.flag("new_elsewhere", False)
    name = table.text("name", "")
    if chord is None or frets is None or not strings:
        return None
    wrong = _not_its_chord(frets, chord, strings)
    if wrong:
        table.wrong(
            f"{frets_text(frets)} is not {chord}: {wrong}.",
            "frets",
            found=frets_text(frets),
            expected=f"tones of {chord}: {' '.join(str(t.spelling) for t in chord.tones)}",
            hint="Correct the frets or the chord.",
        )
        return None
    name = name or family_name(chord, frets)
    return RepertoireShape(_unique(name, before), chord, frets, movable, new_elsewhere)


def _chord(table: Table) -> Chord | None:
    text = table.get("chord", values.text(example="C"), "", needed=True)
    try:
        return parse_chord(text) if text else None
    except ChordError as error:
        problem = error.problems[0]
        more = {"found": short(text), "expected": problem.expected, "hint": problem.hint}
        table.wrong(problem.message, "chord", **more)
        return None


def _not_its_chord(frets: Frets, chord: Chord, strings: tuple[Pitch, ...]) -> str:
    """Why frets are no shape of a chord, as a clause; empty when they are one."""
    pitches = [p.midi + fret for p, fret in zip(strings, frets, strict=True) if fret is not None]
    if not pitches:
        return "no string sounds"
    for index, (pitch, fret) in enumerate(zip(strings, frets, strict=True)):
        if fret is not None and chord.degree_of(pitch.midi + fret) is None:
            return f"fret {fret} on string {len(strings) - index} is no tone of it"
    missing = chord.essential_pcs - {pitch % 12 for pitch in pitches}
    if missing:
        names = [str(tone.spelling) for tone in chord.tones if tone.pc in missing]
        return f"{word_list(names)} {'is' if len(names) == 1 else 'are'} missing"
    return ""


def _unique(name: str, before: list[RepertoireShape]) -> str:
    taken = {shape.name for shape in before}
    number, unique = 2, name
    while unique in taken:
        unique = f"{name} ({number})"
        number += 1
    return unique
