"""One player's rows made into a pattern: strum, bass, drums, comping.

Conventions: see `accomp.rhythm.rows` for the count and the rows under it; `.` is nothing. Where a
row is left out, every stroke is down, plain, on all strings, ringing; a bass plays roots, a comping
player whole chords.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from accomp.rhythm.band import BandNote, BandPattern
from accomp.rhythm.bass import ROLES
from accomp.rhythm.comping import STRIKES
from accomp.rhythm.force import FORCES
from accomp.rhythm.general_midi import percussion_words, program_words
from accomp.rhythm.pattern import Pattern
from accomp.rhythm.reading import Reader, TomlPath
from accomp.rhythm.rows import NOTHING, Count
from accomp.rhythm.stroke import SOUNDS, Stroke
from accomp.rhythm.strum import CHOICES, is_choice
from accomp.time import Meter, Span

# word in the stroke row: direction, manner, value of a measured tremolo
STROKE_WORDS: dict[str, tuple[str, str, Fraction | None]] = {
    "down": ("down", "stroke", None),
    "up": ("up", "stroke", None),
    "split": ("down", "split", None),
    "triplet": ("down", "triplet", None),
    "roll": ("down", "roll", None),
    "roll-up": ("up", "roll", None),
    "tremolo": ("down", "tremolo", None),
    "tremolo8": ("down", "tremolo", Fraction(1, 8)),
    "tremolo12": ("down", "tremolo", Fraction(1, 12)),
    "tremolo16": ("down", "tremolo", Fraction(1, 16)),
    "tremolo32": ("down", "tremolo", Fraction(1, 32)),
    "rest": ("down", "rest", None),
}
DRUM_WORDS = {"x": "plain", "X": "accent", **{force: force for force in FORCES}}
LENGTHS = ("long", "short")


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
    sounds = reader.row((*path, "sound"), count, "ring", SOUNDS)
    if count is None:
        return None
    struck = [index for index, word in enumerate(strokes) if word != NOTHING]
    edges = [*(count.places[index] for index in struck), count.length]
    made = []
    for index, (start, end) in zip(struck, pairwise(edges), strict=True):
        direction, manner, value = STROKE_WORDS[strokes[index]]
        made.append(
            Stroke(
                span=Span(start, end),
                direction=direction,
                strings=_or(strings[index], "all"),
                force=_or(forces[index], "plain"),
                sound=_or(sounds[index], "ring"),
                manner=manner,
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
    sounds = reader.row((*path, "sound"), count, "long", LENGTHS)
    player = reader.word((*path, "player"), program_words(), default, "a General MIDI sound")
    if count is None:
        return None
    rows = zip(count.places, notes, forces, sounds, strict=True)
    return BandPattern(
        count.length,
        tuple(
            BandNote(start, note, _or(force, "plain"), _or(sound, "long"))
            for start, note, force, sound in rows
            if note != NOTHING
        ),
        player,
    )


def _or(word: str, default: str) -> str:
    return default if word == NOTHING else word
