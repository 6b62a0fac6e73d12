"""One player's rows made into a pattern: strum, bass, drums, comping.

Conventions: see `accomp.rhythm.rows` for the count and the rows under it; `.` is nothing. Where a
row is left out, every stroke is down, plain, on all strings, ringing; a bass plays roots, a comping
player whole chords.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from accomp.rhythm.bass import ROLES
from accomp.rhythm.comping import STRIKES
from accomp.rhythm.general_midi import percussion_words, program_words
from accomp.rhythm.pattern import BandNote, BandPattern, NoteLength, Pattern
from accomp.rhythm.reading import Reader, TomlPath
from accomp.rhythm.rows import NOTHING, Count
from accomp.rhythm.stroke import FORCES, ForceStep, Stroke, StrokeDirection, StrokeSound, Technique
from accomp.rhythm.strum import CHOICES, is_choice
from accomp.time import Meter, Span

# word in the stroke row: direction, technique, value of a measured tremolo
STROKE_WORDS: dict[str, tuple[StrokeDirection, Technique, Fraction | None]] = {
    "down": (StrokeDirection.DOWN, Technique.STROKE, None),
    "up": (StrokeDirection.UP, Technique.STROKE, None),
    "split": (StrokeDirection.DOWN, Technique.SPLIT, None),
    "triplet": (StrokeDirection.DOWN, Technique.TRIPLET, None),
    "roll": (StrokeDirection.DOWN, Technique.ROLL, None),
    "roll-up": (StrokeDirection.UP, Technique.ROLL, None),
    "tremolo": (StrokeDirection.DOWN, Technique.TREMOLO, None),
    "tremolo8": (StrokeDirection.DOWN, Technique.TREMOLO, Fraction(1, 8)),
    "tremolo12": (StrokeDirection.DOWN, Technique.TREMOLO, Fraction(1, 12)),
    "tremolo16": (StrokeDirection.DOWN, Technique.TREMOLO, Fraction(1, 16)),
    "tremolo32": (StrokeDirection.DOWN, Technique.TREMOLO, Fraction(1, 32)),
    "rest": (StrokeDirection.DOWN, Technique.REST, None),
}
DRUM_WORDS: dict[str, ForceStep] = {
    "x": ForceStep.PLAIN,
    "X": ForceStep.ACCENT,
    **{force.value: force for force in ForceStep},
}


def read_strum(
    reader: Reader, path: TomlPath, meter: Meter, more: tuple[str, ...] = ()
) -> Pattern | None:
    """The right hand's pattern; `more` keys belong to whoever calls. None when there is no count
    that can be read, which is noted."""
    reader.only(path, ("count", "length", "stroke", "strings", "force", "sound", *more))
    count = reader.count(path, meter)
    strokes = reader.row((*path, "stroke"), count, "down", tuple(STROKE_WORDS))
    strings = reader.row((*path, "strings"), count, "all", CHOICES, is_choice)
    forces = reader.row((*path, "force"), count, "plain", FORCES)
    sounds = reader.row(
        (*path, "sound"), count, "ring", tuple(sound.value for sound in StrokeSound)
    )
    if count is None:
        return None
    struck = [index for index, word in enumerate(strokes) if word != NOTHING]
    edges = [*(count.places[index] for index in struck), count.length]
    made = []
    for index, (start, end) in zip(struck, pairwise(edges), strict=True):
        direction, technique, value = STROKE_WORDS[strokes[index]]
        made.append(
            Stroke(
                span=Span(start, end),
                direction=direction,
                strings=_or(strings[index], "all"),
                force=ForceStep(_or(forces[index], "plain")),
                sound=StrokeSound(_or(sounds[index], "ring")),
                technique=technique,
                value=value,
            )
        )
    return Pattern(count.length, tuple(made))


def read_bass(
    reader: Reader, path: TomlPath, meter: Meter, more: tuple[str, ...] = ()
) -> BandPattern | None:
    """The bass's pattern; `more` keys, among "player", are those that may stand here."""
    reader.only(path, ("count", "length", "note", "force", "sound", "first", *more))
    count = reader.count(path, meter)
    notes = reader.row((*path, "note"), count, "root", ROLES)
    first = reader.word(
        (*path, "first"), ("root", "as written"), "root", "how a chord begins in the bass"
    )
    pattern = _pitched(reader, path, count, notes, "acoustic-bass")
    return None if pattern is None else replace(pattern, free=first == "as written")


def read_comping(
    reader: Reader, path: TomlPath, meter: Meter, more: tuple[str, ...] = ()
) -> BandPattern | None:
    """The pattern of a second player of chords; `more` keys are those that may stand here."""
    reader.only(path, ("count", "length", "play", "force", "sound", *more))
    count = reader.count(path, meter)
    strikes = reader.row((*path, "play"), count, "chord", STRIKES)
    return _pitched(reader, path, count, strikes, "piano")


def read_drums(reader: Reader, path: TomlPath, meter: Meter) -> BandPattern | None:
    """The drummer's pattern: one row a sound."""
    words = percussion_words()
    reader.only(path, ("count", "length", *words))
    count = reader.count(path, meter)
    notes = []
    for sound in reader.value(path):
        if sound not in words:
            continue
        row = reader.row((*path, sound), count, NOTHING, tuple(DRUM_WORDS))
        places = count.places if count is not None else ()
        notes += [
            BandNote(start, sound, DRUM_WORDS[word])
            for start, word in zip(places, row, strict=True)
            if word != NOTHING
        ]
    if count is None:
        return None
    notes.sort(key=lambda note: note.start)
    return BandPattern(count.length, tuple(notes))


def _pitched(
    reader: Reader, path: TomlPath, count: Count | None, notes: list[str], default: str
) -> BandPattern | None:
    """A pitched player's pattern, from the words of the row that says what is played."""
    forces = reader.row((*path, "force"), count, "plain", FORCES)
    sounds = reader.row(
        (*path, "sound"), count, "long", tuple(length.value for length in NoteLength)
    )
    player = reader.word((*path, "player"), program_words(), default, "a General MIDI sound")
    if count is None:
        return None
    rows = zip(count.places, notes, forces, sounds, strict=True)
    return BandPattern(
        count.length,
        tuple(
            BandNote(start, note, ForceStep(_or(force, "plain")), NoteLength(_or(sound, "long")))
            for start, note, force, sound in rows
            if note != NOTHING
        ),
        player,
    )


def _or(word: str, default: str) -> str:
    return default if word == NOTHING else word
