"""Repertoire files: finding and reading them, and what is wrong in them.

Conventions: see the head comment of any file in data/repertoires.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

from accomp.errors import ChordError, InputError, Problem
from accomp.files import data
from accomp.files.toml import Document, read_toml, unknown_keys
from accomp.harmony import Chord, Pitch, parse_chord
from accomp.neck.fingering import Frets
from accomp.neck.instrument import Instrument
from accomp.neck.naming import frets_text, join, read_frets
from accomp.neck.repertoire import Repertoire, RepertoireShape, family_name

_KEYS = ("title", "strings", "shape")
_SHAPE_KEYS = ("chord", "frets", "movable", "name")


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
    document = read_toml(path)
    problems = unknown_keys(document, (), _KEYS)
    strings = _strings(document, problems)
    if instrument is not None and strings and strings != instrument.strings:
        tuning = " ".join(str(pitch) for pitch in instrument.strings)
        problems.append(
            document.problem(
                f"this repertoire is not for {instrument.title}, tuned {tuning}.",
                "strings",
                found=" ".join(str(pitch) for pitch in strings),
                expected=tuning,
                hint="Choose another repertoire or another instrument.",
            )
        )
    entries = document.data.get("shape")
    if not isinstance(entries, list) or not entries:
        problems.append(
            document.problem(
                "there is no shape in this repertoire.",
                "shape",
                expected="at least one [[shape]] with chord and frets",
            )
        )
        entries = []
    shapes: list[RepertoireShape] = []
    for index, entry in enumerate(entries):
        shape = _shape(document, index, entry, strings, shapes, problems)
        if shape is not None:
            shapes.append(shape)
    if problems:
        raise InputError(sorted(problems, key=lambda one: (one.line, one.column)))
    title = document.data.get("title", path.stem)
    return Repertoire(str(title), strings, tuple(shapes))


def _strings(document: Document, problems: list[Problem]) -> tuple[Pitch, ...]:
    value = document.data.get("strings")
    try:
        assert isinstance(value, list)
        return tuple(Pitch.parse(name) for name in value if isinstance(name, str))
    except (AssertionError, ValueError):
        expected = 'the tuning as pitches, highest-numbered string first, as ["C3", "G3"]'
        problems.append(
            document.problem(
                f"`strings` is no tuning: expected {expected}.",
                "strings",
                found="" if value is None else str(value),
                expected=expected,
            )
        )
        return ()


def _shape(
    document: Document,
    index: int,
    entry: Any,
    strings: tuple[Pitch, ...],
    before: list[RepertoireShape],
    problems: list[Problem],
) -> RepertoireShape | None:
    place = ("shape", index)
    if not isinstance(entry, dict):
        problems.append(document.problem("a shape is a table with chord and frets.", *place))
        return None
    problems += unknown_keys(document, place, _SHAPE_KEYS)
    symbol, frets_given = entry.get("chord"), entry.get("frets")
    try:
        chord = parse_chord(symbol if isinstance(symbol, str) else "")
    except ChordError as error:
        message = f"{symbol!r} is not a chord: {error.problems[0].message}"
        if symbol is None:
            message = "a shape needs its chord."
        problems.append(document.problem(message, *place, "chord", found=str(symbol or "")))
        return None
    frets = read_frets(frets_given, len(strings))
    if frets is None:
        expected = (
            f'{len(strings)} frets from the highest-numbered string to the first, as "0 0 2 3"'
        )
        problems.append(
            document.problem(
                f"frets = {frets_given!r} is no shape: expected {expected}.",
                *place,
                "frets",
                found=str(frets_given),
                expected=expected,
            )
        )
        return None
    movable = entry.get("movable", True)
    if not isinstance(movable, bool):
        problems.append(
            document.problem(
                f"movable = {movable!r}: expected true or false.",
                *place,
                "movable",
                found=str(movable),
                expected="true or false",
            )
        )
        return None
    wrong = _not_its_chord(frets, chord, strings)
    if wrong:
        problems.append(
            document.problem(
                f"{frets_text(frets)} is not {chord}: {wrong}.",
                *place,
                "frets",
                found=frets_text(frets),
                expected=f"tones of {chord}: {' '.join(str(t.spelling) for t in chord.tones)}",
                hint="Correct the frets or the chord.",
            )
        )
        return None
    name = entry.get("name")
    if not isinstance(name, str) or not name.strip():
        name = family_name(frets, chord, strings, movable)
    return RepertoireShape(_unique(name, before), chord, frets, movable)


def _not_its_chord(frets: Frets, chord: Chord, strings: tuple[Pitch, ...]) -> str:
    """What is wrong with a shape that is said to be a chord; empty when it is one."""
    pitches = [p.midi + fret for p, fret in zip(strings, frets, strict=True) if fret is not None]
    if not pitches:
        return "no string sounds"
    for index, (pitch, fret) in enumerate(zip(strings, frets, strict=True)):
        if fret is not None and chord.degree_of(pitch.midi + fret) is None:
            return f"fret {fret} on string {len(strings) - index} is no tone of it"
    missing = chord.essential_pcs - {pitch % 12 for pitch in pitches}
    if missing:
        names = [str(tone.spelling) for tone in chord.tones if tone.pc in missing]
        return f"{join(names)} {'is' if len(names) == 1 else 'are'} missing"
    return ""


def _unique(name: str, before: list[RepertoireShape]) -> str:
    taken = {shape.name for shape in before}
    number, unique = 2, name
    while unique in taken:
        unique = f"{name} ({number})"
        number += 1
    return unique
