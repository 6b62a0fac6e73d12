"""A measure as another reader sees it: pitches, chord symbols and key moved together."""

from __future__ import annotations

from dataclasses import replace

from accomp.harmony import Interval, Pitch, transpose_chord
from accomp.score.notate_layout import reading_key
from accomp.score.written import ChordMark, Event, Measure, WrittenNote


def read_at(measure: Measure, interval: Interval, octaves: int) -> Measure:
    """The measure written `interval` and `octaves` above its sound; boxes stay, as they show the
    neck of an instrument that sounds as it did."""
    if interval == Interval(0, 0) and not octaves:
        return measure
    whole = Interval(interval.steps + 7 * octaves, interval.semitones + 12 * octaves)
    return replace(
        measure,
        key=reading_key(measure.key, interval),
        events=tuple(_event(event, whole) for event in measure.events),
        chords=tuple(_mark(mark, interval) for mark in measure.chords),
        transpose=-whole,
    )


def _event(event: Event, interval: Interval) -> Event:
    return replace(event, notes=tuple(_note(note, interval) for note in event.notes))


def _note(note: WrittenNote, interval: Interval) -> WrittenNote:
    name = note.pitch.spelling.up(interval).plain
    return replace(note, pitch=Pitch.spelled(note.pitch.midi + interval.semitones, name))


def _mark(mark: ChordMark, interval: Interval) -> ChordMark:
    if mark.chord is None or interval == Interval(0, 0):
        return mark
    return replace(mark, chord=transpose_chord(mark.chord, interval))
