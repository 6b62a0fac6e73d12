"""What stands in one measure of a MusicXML part: chord symbols, melody, length.

Conventions: the reader walks the measure with a cursor in whole notes; `divisions` counts parts of
a quarter. The melody is the first voice of the first staff, the highest note of a chord.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction

from lxml import etree

from accomp.harmony import Interval, Pitch, Spelling, parse_chord, transpose_chord
from accomp.tune.leadsheet.harmony import NotTakenError, harmony_symbol
from accomp.tune.leadsheet.written import SourceNote, WrittenChord

_SILENCE = re.compile(r"\(?\s*n\.?\s?c\.?\s*\)?", re.IGNORECASE)
_MOST_CHORDS = 64  # in a bar; no tune file shows as many
_LONGEST = Fraction(100)  # whole notes; no measure comes near


@dataclass
class MeasureContent:
    """A measure as it is read; `left_out` names what is not taken over, for the notices."""

    chords: list[WrittenChord] = field(default_factory=list)
    notes: list[SourceNote] = field(default_factory=list)
    length: Fraction = Fraction(0)
    left_out: list[str] = field(default_factory=list)


class MeasureReader:
    """Reads the measures of one part in order; it remembers divisions and the melody's voice."""

    def __init__(self, notice: Callable[[str], None]) -> None:
        self.notice = notice  # called with what is wrong in the measure being read
        self.divisions = Fraction(1)
        self.transposition = Interval(0, 0)
        self.octaves = 0
        self.voice: str | None = None

    def read(self, measure: etree._Element) -> MeasureContent:
        """The content of a measure."""
        content = MeasureContent()
        cursor = Fraction(0)
        onset = Fraction(0)  # of the note before, for the other notes of its chord
        for element in measure:
            match element.tag:
                case "attributes":
                    self.attributes(element)
                case "backup":
                    cursor = max(Fraction(0), cursor - self._length(element))
                case "forward":
                    cursor += self._length(element)
                case "harmony":
                    self._harmony(content, element, cursor)
                case "direction":
                    self._direction(content, element, cursor)
                case "note":
                    together = element.find("chord") is not None
                    start = onset if together else cursor
                    length = self._note(content, element, start, together)
                    if not together:
                        onset = cursor
                        cursor += length
            cursor = min(cursor, _LONGEST)
            content.length = max(content.length, cursor)
        return content

    def attributes(self, element: etree._Element) -> None:
        """Take note of divisions and transposition."""
        divisions = _number(element.findtext("divisions"))
        if divisions > 0:
            self.divisions = divisions
        transpose = element.find("transpose")
        if transpose is not None:
            semitones = int(_number(transpose.findtext("chromatic")))
            self.octaves = int(_number(transpose.findtext("octave-change")))
            steps = transpose.findtext("diatonic")
            self.transposition = Interval(
                int(_number(steps)) if steps else _usual_steps(semitones), semitones
            )

    def _length(self, element: etree._Element) -> Fraction:
        return max(Fraction(0), _number(element.findtext("duration")) / self.divisions / 4)

    def _harmony(self, content: MeasureContent, element: etree._Element, cursor: Fraction) -> None:
        onset = cursor + _number(element.findtext("offset")) / self.divisions / 4
        try:
            symbol = harmony_symbol(element)
        except NotTakenError as error:
            self.notice(f"{error}; nobody plays there")
            if "alternative" in str(error):
                return
            symbol = None
        if symbol is not None and self.transposition.semitones % 12:
            symbol = str(transpose_chord(parse_chord(symbol), self.transposition))
        add_chord(content.chords, max(Fraction(0), onset), symbol, self.notice)

    def _direction(
        self, content: MeasureContent, element: etree._Element, cursor: Fraction
    ) -> None:
        """A direction that says N.C.; what else directions say is read with the signs."""
        for words in element.iter("words"):
            if _SILENCE.fullmatch((words.text or "").strip()):
                onset = cursor + _number(element.findtext("offset")) / self.divisions / 4
                add_chord(content.chords, max(Fraction(0), onset), None, self.notice)

    def _note(
        self, content: MeasureContent, element: etree._Element, onset: Fraction, together: bool
    ) -> Fraction:
        """Take a note over; its length, 0 for a grace note."""
        if element.find("grace") is not None:
            content.left_out.append("grace notes")
            return Fraction(0)
        length = self._length(element)
        if element.find("cue") is not None:
            content.left_out.append("cue notes")
            return length
        if element.find("lyric") is not None:
            content.left_out.append("lyrics")
        pitch = self._pitch(element)
        if pitch is None:
            if element.find("unpitched") is not None:
                content.left_out.append("notes without pitch")
            return length
        if element.findtext("staff", "1").strip() != "1":
            content.left_out.append("the second staff")
            return length
        voice = element.findtext("voice", "1").strip()
        if self.voice is None:
            self.voice = voice
        if voice != self.voice:
            content.left_out.append("other voices than the melody's")
            return length
        if length <= 0:
            return length
        tied = any(tie.get("type") == "stop" for tie in element.findall("tie"))
        note = SourceNote(onset, length, pitch, tied)
        if together and content.notes and content.notes[-1].onset == onset:
            content.left_out.append("the lower notes of chords in the melody")
            if pitch.midi > content.notes[-1].pitch.midi:
                content.notes[-1] = note
        else:
            content.notes.append(note)
        return length

    def _pitch(self, element: etree._Element) -> Pitch | None:
        step = element.findtext("pitch/step", "").strip()
        if step not in tuple("ABCDEFG"):
            return None
        alter = round(_number(element.findtext("pitch/alter")))
        octave = int(_number(element.findtext("pitch/octave")))
        written = Pitch(Spelling(step, max(-2, min(2, alter))), octave)
        sounding = written.midi + self.transposition.semitones + 12 * self.octaves
        if not 0 <= sounding <= 127:
            return None
        return Pitch.spelled(sounding, written.spelling.up(self.transposition))


def add_chord(
    chords: list[WrittenChord], onset: Fraction, symbol: str | None, notice: Callable[[str], None]
) -> None:
    """Add a chord symbol; of two at one place the first one stays, with a notice."""
    for other in chords:
        if other.onset == onset:
            if other.symbol != symbol:
                notice(
                    f"{symbol or 'N.C.'} stands at the same place as {other.symbol or 'N.C.'} and "
                    "is left out"
                )
            return
    if len(chords) >= _MOST_CHORDS:
        notice(f"{symbol or 'N.C.'} and what follows it finds no room and is left out")
        return
    chords.append(WrittenChord(onset, symbol))


def _usual_steps(semitones: int) -> int:
    """Letter names of an interval that a file gives in semitones only: 2 is a second."""
    octaves, rest = divmod(semitones, 12)
    return 7 * octaves + (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)[rest]


def _number(text: str | None) -> Fraction:
    """A number in a file, 0 for anything else."""
    try:
        number = Fraction((text or "0").strip())
    except (ValueError, ZeroDivisionError):
        return Fraction(0)
    return number if abs(number) < 10**9 and number.denominator < 10**6 else Fraction(0)
