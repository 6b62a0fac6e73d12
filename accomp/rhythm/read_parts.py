"""One player's rows made into a pattern: strum, bass, drums, comping.

Conventions: see `accomp.rhythm.rows` for the count and the rows under it; `.` is nothing. Where a
row is left out, every stroke is down, plain, on all strings, ringing; a bass plays roots, a comping
player whole chords.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from accomp.files import values
from accomp.files.table import Table, TextError
from accomp.files.values import Value, WrongValueError, did_you_mean
from accomp.rhythm.bass import ROLES
from accomp.rhythm.comping import STRIKES
from accomp.rhythm.general_midi import DRUM_SETS, percussion_words, program_words
from accomp.rhythm.pattern import Approach, BandNote, BandPattern, NoteLength, Pattern
from accomp.rhythm.rows import NOTHING, Count, WordRow, read_count, under
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
SOUNDS = tuple(sound.value for sound in StrokeSound)
LENGTHS = tuple(length.value for length in NoteLength)
MOST_COUNTS = 256


def _row(found: object) -> str:
    if not isinstance(found, str):
        raise WrongValueError
    return found


_COUNT = Value("a count in quotes", _row, '"1 2 3 4"')
_ROW = Value("a row of words in quotes", _row, '"..."')
_LENGTH = values.number(0, MOST_COUNTS, above=True)


def count_of(table: Table, meter: Meter | None) -> Count | None:
    """The count of a table, None (and a problem) when it cannot be read."""
    text = table.get("count", _COUNT, None, needed=True)
    length = table.get("length", _LENGTH, None)
    if text is None or meter is None or (length is None and "length" in table):
        return None
    counts = None if length is None else Fraction(str(length)).limit_denominator(48)
    try:
        return read_count(text, meter, counts or None)
    except TextError as error:
        table.text_error(error, "count")
        return None


def row_of(
    table: Table,
    key: str,
    count: Count | None,
    default: str,
    words: Sequence[str],
    known: Callable[[str], bool] | None = None,
) -> list[str]:
    """The words of one row; `default` stands for an unknown word, which is noted, and for a whole
    row that is left out. `words` are the known ones, or examples of what `known` takes. Without a
    count the words are judged all the same, and none are given."""
    text = table.get(key, _ROW, None)
    usual = [default] * len(count.row) if count is not None else []
    if text is None:
        return usual
    try:
        found = WordRow.split(text).words if count is None else under(text, count)
    except TextError as error:
        table.text_error(error, key)
        return usual
    known = known or words.__contains__
    bad = {word for word in found if word.text != NOTHING and not known(word.text)}
    listed = ", ".join(words)
    for word in bad:
        table.text_error(
            TextError(
                word.offset,
                f"{word.text[:40]!r} is not a word of the row {key!r}.",
                found=word.text,
                expected=listed,
                hint=did_you_mean(word.text, words) or f"Known are: {listed}.",
            ),
            key,
        )
    return [default if word in bad else word.text for word in found] if count is not None else []


def read_strum(table: Table, meter: Meter | None) -> Pattern | None:
    """The right hand's pattern; None when the count cannot be read, which is noted."""
    count = count_of(table, meter)
    strokes = row_of(table, "stroke", count, "down", tuple(STROKE_WORDS))
    strings = row_of(table, "strings", count, "all", CHOICES, is_choice)
    forces = row_of(table, "force", count, "plain", FORCES)
    sounds = row_of(table, "sound", count, "ring", SOUNDS)
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


def read_bass(table: Table, meter: Meter | None, sound: bool) -> BandPattern | None:
    """The bass's pattern, None without a count; `sound`: the player's sound may be named."""
    count = count_of(table, meter)
    notes = row_of(table, "note", count, "root", ROLES)
    first = table.word("first", ("root", "as written"), "root")
    # What leads into the next note is a matter of the whole style, like the player.
    approach = table.word("approach", Approach, Approach.CHROMATIC) if sound else None
    pattern = _pitched(table, count, notes, "acoustic-bass", sound)
    if pattern is None:
        return None
    return replace(pattern, free=first == "as written", approach=approach or Approach.CHROMATIC)


def read_comping(table: Table, meter: Meter | None, sound: bool) -> BandPattern | None:
    """The pattern of a second player of chords; None and `sound` as for the bass."""
    count = count_of(table, meter)
    strikes = row_of(table, "play", count, "chord", STRIKES)
    return _pitched(table, count, strikes, "piano", sound)


def read_drums(table: Table, meter: Meter | None, named: bool = False) -> BandPattern | None:
    """The drummer's pattern, one row a sound; `named`: what they hold may be named."""
    words = percussion_words()
    count = count_of(table, meter)
    notes = []
    for sound in table.data:
        if sound not in words:
            continue
        row = row_of(table, sound, count, NOTHING, tuple(DRUM_WORDS))
        places = count.places if count is not None else ()
        notes += [
            BandNote(start, sound, DRUM_WORDS[word])
            for start, word in zip(places, row, strict=True)
            if word != NOTHING
        ]
    player = table.word("player", DRUM_SETS, "sticks") if named else ""
    table.expects(words)
    if count is None:
        return None
    notes.sort(key=lambda note: note.start)
    return BandPattern(count.length, tuple(notes), player)


def _pitched(
    table: Table, count: Count | None, notes: list[str], default: str, sound: bool
) -> BandPattern | None:
    """A pitched player's pattern, from the words of the row that says what is played."""
    forces = row_of(table, "force", count, "plain", FORCES)
    sounds = row_of(table, "sound", count, "long", LENGTHS)
    player = default
    if sound:
        player = table.word("player", program_words(), default, "a General MIDI sound")
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
