"""Strokes and bass notes as noteheads with their names and marks.

Conventions: a stroke is written with the strings it strikes. A tone of the chord keeps the name it
has there, any other note the key's. Tremolo and roll have signs; a tremolo in triplets has none and
is written out. Short sounds, choked or dead, are written no longer than to the end of their beat.

A program that reads the file takes a rhythm slash for an ordinary note. A slash therefore has the
pitch of the middle line in the key signature, and no accidental. An accidental holds for its line
or space (letter and octave) up to the bar line; the key signature holds in every octave. A note
tied over needs no new sign.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from accomp.harmony import Chord, Key, Pitch
from accomp.neck import Instrument, Shape
from accomp.rhythm.stroke import ForceStep, StrokeSound, Technique
from accomp.rhythm.strum import tremolo_direction
from accomp.score.arrangement import ArrangedBar, BandStroke, Strum
from accomp.score.notate_rhythm import Sounding
from accomp.score.written import Clef, Event, Mark, WrittenNote
from accomp.time import Span

_SHORT = {StrokeSound.CHOKED, StrokeSound.HEEL, StrokeSound.DEAD}
_UNMEASURED = Fraction(1, 32)  # three strokes through the stem, the usual sign


def strum_sounds(arranged: ArrangedBar, instrument: Instrument) -> list[Sounding]:
    """What a bar's strokes sound, in order, counted from the bar line."""
    start, key = arranged.bar.start, arranged.bar.key
    sounds: list[Sounding] = []
    for strum in arranged.strums:
        if strum.technique == Technique.REST or not strum.strings:
            continue
        whole = Sounding(
            span=strum.span.shifted(-start),
            notes=_noteheads(strum.shape, strum.chord, strum.strings, key, instrument),
            direction=strum.direction,
            marks=_marks(strum),
            short=strum.sound in _SHORT,
        )
        if strum.technique == Technique.TREMOLO:
            sounds += _tremolo(whole, strum)
        else:
            sounds.append(whole)
    return sounds


def _tremolo(whole: Sounding, strum: Strum) -> list[Sounding]:
    """A tremolo with its sign, or its strokes one by one: triplets have no sign."""
    value = strum.value or _UNMEASURED
    if value.denominator & (value.denominator - 1) == 0:
        return [replace(whole, tremolo=value)]
    count = max(1, int(whole.span.duration / value))
    length = whole.span.duration / count
    return [
        replace(
            whole,
            span=Span(whole.span.start + i * length, whole.span.start + (i + 1) * length),
            direction=tremolo_direction(strum.direction, i),
            marks=whole.marks if i == 0 else whole.marks - {Mark.ACCENT},
        )
        for i in range(count)
    ]


def _marks(strum: Strum) -> frozenset[Mark]:
    marks: set[Mark] = set()
    if strum.force == ForceStep.ACCENT:
        marks.add(Mark.ACCENT)
    if strum.sound in {StrokeSound.CHOKED, StrokeSound.HEEL}:
        marks.add(Mark.CHOKED)
    if strum.sound == StrokeSound.DEAD:
        marks.add(Mark.DEAD)
    if strum.technique == Technique.ROLL:
        marks.add(Mark.ROLL)
    return frozenset(marks)


@lru_cache(maxsize=2048)
def _noteheads(
    shape: Shape, chord: Chord, strings: tuple[int, ...], key: Key, instrument: Instrument
) -> tuple[WrittenNote, ...]:
    """The notes of `strings`, lowest first, each under its name in the chord."""
    notes = []
    for index in sorted(strings):
        midi, fret = shape.pitches[index], shape.frets[index]
        if midi is None or fret is None:
            continue
        tone = chord.by_pc.get(midi % 12)
        bass = chord.bass
        if tone:
            spelling = tone.spelling
        elif bass and bass.pc == midi % 12:
            spelling = bass
        else:
            spelling = key.spell(midi % 12)
        pitch = Pitch.spelled(midi, spelling)
        notes.append(WrittenNote(pitch, None, instrument.string_number(index), fret))
    # Of equal pitches the higher-numbered string comes first, since the sort is stable.
    return tuple(sorted(notes, key=lambda note: note.pitch.midi))


def bass_sounds(arranged: ArrangedBar) -> list[Sounding]:
    """What the bass plays in a bar, in order, counted from the bar line."""
    start = arranged.bar.start
    return [
        Sounding(
            span=stroke.span.shifted(-start),
            notes=(WrittenNote(_pitch(stroke, arranged)),),
            marks=frozenset({Mark.ACCENT} if stroke.force == ForceStep.ACCENT else ()),
        )
        for stroke in arranged.bass
    ]


def _pitch(stroke: BandStroke, arranged: ArrangedBar) -> Pitch:
    pc = stroke.pitch % 12
    for change in arranged.changes:
        if change.chord is None or stroke.span.start not in change.span:
            continue
        names = [change.chord.bass, change.chord.root]
        names += [tone.spelling for tone in change.chord.tones]
        for name in names:
            if name is not None and name.pc == pc:
                return Pitch.spelled(stroke.pitch, name)
    return Pitch.spelled(stroke.pitch, arranged.bar.key.spell(pc))


_MIDDLE = {"G": ("B", 4), "F": ("D", 3)}


def slashed(events: Sequence[Event], clef: Clef, key: Key) -> tuple[Event, ...]:
    """The same rhythm with one slash for each chord."""
    step, octave = _MIDDLE[clef.sign]
    name = next(name for name in key.scale if name.step == step)
    note = WrittenNote(Pitch(name, octave + clef.octave))
    return tuple(replace(event, notes=(note,)) if event.notes else event for event in events)


def with_accidentals(key: Key, events: Sequence[Event]) -> tuple[Event, ...]:
    """The events of one measure in `key`, each note with the sign it needs."""
    signature = {name.step: name.alter for name in key.scale}
    said: dict[tuple[str, int], int] = {}
    out = []
    for event in events:
        notes = []
        for note in event.notes:
            spelling = note.pitch.spelling
            height = (spelling.step, note.pitch.octave)
            if spelling.alter != said.get(height, signature[spelling.step]) and not event.tied_from:
                note = replace(note, accidental=spelling.alter)
                said[height] = spelling.alter
            notes.append(note)
        out.append(replace(event, notes=tuple(notes)) if notes else event)
    return tuple(out)
