"""The strummed part's strokes as noteheads with their marks.

Conventions: a stroke is written with the strings it strikes. Manners are written out where note
values say them exactly (split strokes, triplets), marked where custom has a sign (tremolo, roll).
Short sounds, choked or dead, are not held in writing beyond their beat.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from accomp.harmony import Chord, Key, Pitch
from accomp.neck import Instrument, Shape
from accomp.score.arrangement import ArrangedBar, Strum
from accomp.score.notate_rhythm import Sounding
from accomp.score.written import WrittenNote
from accomp.time import Span

_SHORT = {"choked", "heel", "dead"}
_UNMEASURED = Fraction(1, 32)  # three strokes through the stem, the usual sign
_OTHER_WAY = {"down": "up", "up": "down"}


def strum_sounds(arranged: ArrangedBar, instrument: Instrument) -> list[Sounding]:
    """What a bar's strokes sound, in order, counted from the bar line."""
    start, key = arranged.bar.start, arranged.bar.key
    sounds: list[Sounding] = []
    for strum in arranged.strums:
        if strum.manner == "rest" or not strum.strings:
            continue
        whole = Sounding(
            span=strum.span.shifted(-start),
            notes=_noteheads(strum.shape, strum.chord, strum.strings, key, instrument),
            direction=strum.direction,
            marks=_marks(strum),
            short=strum.sound in _SHORT,
        )
        sounds += _in_its_manner(whole, strum, key, instrument)
    return sounds


def _in_its_manner(
    whole: Sounding, strum: Strum, key: Key, instrument: Instrument
) -> list[Sounding]:
    if strum.manner == "split" and len(strum.strings) > 1:
        first, others = _parts(whole, 2)
        return [
            replace(
                first,
                notes=_noteheads(strum.shape, strum.chord, strum.strings[:1], key, instrument),
            ),
            replace(
                others,
                notes=_noteheads(strum.shape, strum.chord, strum.strings[1:], key, instrument),
            ),
        ]
    if strum.manner == "triplet":
        return _to_and_fro(whole, 3)
    if strum.manner == "tremolo":
        value = strum.value or _UNMEASURED
        if value.denominator & (value.denominator - 1):  # triplets have no sign: written out
            return _to_and_fro(whole, max(1, int(whole.span.duration / value)))
        return [replace(whole, tremolo=value)]
    return [whole]


def _parts(whole: Sounding, count: int) -> list[Sounding]:
    """`count` even parts; only the first keeps an accent."""
    length = whole.span.duration / count
    return [
        replace(
            whole,
            span=Span(whole.span.start + i * length, whole.span.start + (i + 1) * length),
            marks=whole.marks if i == 0 else whole.marks - {"accent"},
        )
        for i in range(count)
    ]


def _to_and_fro(whole: Sounding, count: int) -> list[Sounding]:
    return [
        replace(part, direction=_OTHER_WAY[part.direction] if i % 2 else part.direction)
        for i, part in enumerate(_parts(whole, count))
    ]


def _marks(strum: Strum) -> frozenset[str]:
    marks = set()
    if strum.force == "accent":
        marks.add("accent")
    if strum.sound in {"choked", "heel"}:
        marks.add("choked")
    if strum.sound == "dead":
        marks.add("dead")
    if strum.manner == "roll":
        marks.add("roll")
    return frozenset(marks)


@lru_cache(maxsize=2048)
def _noteheads(
    shape: Shape, chord: Chord, strings: tuple[int, ...], key: Key, instrument: Instrument
) -> tuple[WrittenNote, ...]:
    """The notes of `strings`, lowest first, each under its name in the chord."""
    notes = []
    for index in strings:
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
    return tuple(sorted(notes, key=lambda note: (note.pitch.midi, -(note.string or 0))))
