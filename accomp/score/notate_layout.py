"""Which parts a written score has, for whom, and how a measure looks to them.

Conventions: a *reader* is the player a part is written for. Intervals lead from the sound to the
written note.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from accomp.harmony import Interval, Key, Pitch, transpose_chord
from accomp.neck import Instrument
from accomp.score.readers import PlayerPart, Reader
from accomp.score.written import ChordMark, Clef, Event, Measure, WrittenNote

TAB = Clef("TAB", 5)
TREBLE, BASS = Clef("G", 2), Clef("F", 4)

# Up from the sound to the written note; the second is the same distance under another name, for
# keys whose signature would have more than `_MOST_SIGNS` signs.
_UP: Mapping[Reader, tuple[Interval, Interval]] = {
    "Bb": (Interval(1, 2), Interval(2, 2)),
    "Eb": (Interval(5, 9), Interval(6, 9)),
}
_TITLES: Mapping[Reader, str] = {
    "concert": "",
    "Bb": "Part in B♭",
    "Eb": "Part in E♭",
    "bass": "Part in bass clef",
}
_MOST_SIGNS = 6


@dataclass(frozen=True, slots=True)
class ScoreLayout:
    """What to write.

    `player` is the strummed part; `bass` whether the bass part stands below (where there is
    one). `reader` is for notation and slashes. With `plain_clef` a part written an octave above
    its sound has a plain treble clef and says the octave by transposition. `fold` writes what
    comes again as repeats and endings.
    """

    player: PlayerPart = "both"
    bass: bool = True
    reader: Reader = "concert"
    plain_clef: bool = False
    fold: bool = True


def reader_title(reader: Reader) -> str:
    """The name of a part for this reader; none at concert pitch, where the player names it."""
    return _TITLES[reader]


def reading_interval(reader: Reader, key: Key) -> Interval:
    """How far above the sound the part is written in `key`, without octaves."""
    if reader not in _UP:
        return Interval(0, 0)
    usual, other = _UP[reader]
    return usual if abs(reading_key(key, usual).fifths) <= _MOST_SIGNS else other


def reading_key(key: Key, interval: Interval) -> Key:
    """The key in which the part is written."""
    return Key(key.tonic.up(interval), key.minor)


def staff(layout: ScoreLayout, instrument: Instrument) -> tuple[Clef, int]:
    """The clef of the strummed part, and how many octaves above its sound it is encoded.

    A clef with a small 8 below says the octave itself, so that the sounding pitch is encoded: every
    program that was tried reads that right.
    """
    if layout.reader == "bass":
        return BASS, 0
    if layout.plain_clef or layout.reader != "concert":
        return TREBLE, instrument.octave
    return Clef("G", 2, -instrument.octave), 0


def read_at(measure: Measure, interval: Interval, octaves: int) -> Measure:
    """The measure written `interval` and `octaves` above its sound. Chord boxes stay the same: the
    instrument is not transposed."""
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
