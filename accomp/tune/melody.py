"""The melody beside a tune, as a line to play along with.

Conventions: times are exact fractions of a whole note from the first full bar of one time through
the form, a pickup before zero; pitches are MIDI numbers of the sound.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from accomp.errors import InputError, Problem
from accomp.harmony import Key
from accomp.time import Span


@dataclass(frozen=True, slots=True)
class MelodyNote:
    """One note, ties reckoned in."""

    span: Span
    pitch: int


def read_melody(path: Path) -> tuple[MelodyNote, ...]:
    """The melody of a MusicXML or ABC file in the order played, repeats and endings followed.

    Chord symbols are not needed. Raises `InputError` for a file that cannot be read, or has no
    notes.
    """
    # Imported here: lxml is of no use to whoever asks for no melody.
    from accomp.tune.leadsheet.abc import read_abc
    from accomp.tune.leadsheet.build import build_tune
    from accomp.tune.leadsheet.melody import melody_measures
    from accomp.tune.leadsheet.musicxml import read_musicxml
    from accomp.tune.leadsheet.source import read_text, read_xml
    from accomp.tune.leadsheet.written import WrittenChord

    if path.suffix.lower() == ".abc":
        written = read_abc(read_text(path), path)[0]
    else:
        written = read_musicxml(read_xml(path), path)
    if written.bars and not any(chord.symbol for bar in written.bars for chord in bar.chords):
        # Bars are laid out as those of a lead sheet, which has a chord somewhere.
        chord = WrittenChord(Fraction(0), "C")
        full = next((i for i, bar in enumerate(written.bars) if bar.number != "0"), 0)
        written.bars[full] = replace(written.bars[full], chords=(chord,))
    built = build_tune(written)
    if built is None:
        raise InputError(replace(problem, file=str(path)) for problem in written.problems)
    notes: list[MelodyNote] = []
    for measure in melody_measures(written, built.played):
        for sound in measure.row:
            if sound.pitch is None:
                continue
            if sound.tied and notes and notes[-1].span.end == sound.start:
                notes[-1] = MelodyNote(Span(notes[-1].span.start, sound.end), notes[-1].pitch)
            else:
                notes.append(MelodyNote(Span(sound.start, sound.end), sound.pitch.midi))
    if not notes:
        raise InputError(Problem("there are no notes in it.", str(path), expected="a melody"))
    return tuple(notes)


def transpose_melody(notes: Iterable[MelodyNote], key: Key, other: Key) -> tuple[MelodyNote, ...]:
    """The melody in another key, by the shorter way: at most a tritone up or five down."""
    up = key.interval_to(other).semitones
    by = up - 12 if up > 6 else up
    return tuple(replace(note, pitch=note.pitch + by) for note in notes)
