"""One measure of a MusicXML part: chord symbols, melody, length and signs.

Conventions: the reader walks the measure with a cursor in whole notes; `divisions` counts parts of
a quarter. The melody is the first voice of the first staff, and of a chord the highest note. Bar
lines have repeats and endings; the other signs come from `<sound>` attributes and from the words of
directions. Tempo counts whole notes a minute.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

from lxml import etree

from accomp.files.values import one_of
from accomp.harmony import Interval, Pitch, Spelling, parse_chord, says_no_chord, transpose_chord
from accomp.harmony.pitch import LETTERS
from accomp.intake.musicxml_harmony import AlternativeError, NotTakenError, harmony_symbol
from accomp.intake.numbers import (
    FASTEST,
    NUMBER_WORD,
    WrongNumberError,
    read_number,
    read_whole,
    time_in_bar,
)
from accomp.intake.signs import (
    chorus_number,
    ending_numbers,
    jump_of,
    says_fine,
    says_to_coda,
    times_said,
)
from accomp.intake.source import line_of
from accomp.intake.written import NO_SIGNS, RoadSigns, SourceNote, WrittenChord, add_chord

_MOST_DOTS = 4
_MOST_UNITS = 100_000_000  # of a duration or an offset, in divisions
_NOTE_VALUES = {"whole": 1, "half": 2, "quarter": 4, "eighth": 8, "16th": 16}


@dataclass
class Signs:
    """The signs of one measure. `ending` is None where no bracket starts; `unboxed`: the rehearsal
    mark has no box."""

    road: RoadSigns = NO_SIGNS
    ending: frozenset[int] | None = None
    ending_stops: bool = False
    unboxed: bool = False
    tempo: Fraction | None = None

    def sees(self, **signs: Any) -> None:
        """Note signs of the road map."""
        self.road = replace(self.road, **signs)


@dataclass
class MeasureContent:
    """The content of a measure; `left_out` names what is not taken over, for the notices."""

    chords: list[WrittenChord] = field(default_factory=list)
    notes: list[SourceNote] = field(default_factory=list)
    length: Fraction = Fraction(0)
    left_out: list[str] = field(default_factory=list)


class MeasureReader:
    """Reads the measures of one part in order; it remembers divisions and the melody's voice."""

    def __init__(
        self, notice: Callable[[str], None], lose: Callable[[str], None], *, ours: bool = False
    ) -> None:
        self.notice = notice  # called with a notice about the measure being read
        self.lose = lose  # called with a harmony that no chord symbol expresses
        self.ours = ours  # the program itself made the file: its symbols are as people typed them
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
            time_in_bar(cursor, line=line_of(element))
            content.length = max(content.length, cursor)
        return content

    def attributes(self, element: etree._Element) -> None:
        """Keep divisions and transposition."""
        if (element.findtext("divisions") or "").strip():
            self.divisions = _number(element, "divisions", 1, 1_000_000)
        transpose = element.find("transpose")
        if transpose is not None:
            semitones = int(_number(transpose, "chromatic", -99, 99))
            self.octaves = int(_number(transpose, "octave-change", -9, 9))
            given = (transpose.findtext("diatonic") or "").strip()
            steps = _number(transpose, "diatonic", -99, 99) if given else _usual_steps(semitones)
            self.transposition = Interval(int(steps), semitones)

    def _length(self, element: etree._Element) -> Fraction:
        return _number(element, "duration", 0, _MOST_UNITS) / self.divisions / 4

    def _offset(self, element: etree._Element) -> Fraction:
        return _number(element, "offset", -_MOST_UNITS, _MOST_UNITS) / self.divisions / 4

    def _harmony(self, content: MeasureContent, element: etree._Element, cursor: Fraction) -> None:
        onset = cursor + self._offset(element)
        try:
            symbol = harmony_symbol(element, ours=self.ours)
        except AlternativeError as error:
            self.notice(str(error))
            return
        except NotTakenError as error:
            self.notice(f"{error}; nobody plays there")
            self.lose(str(error))
            symbol = None
        if symbol is not None and self.transposition.semitones % 12:
            symbol = str(transpose_chord(parse_chord(symbol), self.transposition))
        add_chord(content.chords, max(Fraction(0), onset), symbol, self.notice)

    def _direction(
        self, content: MeasureContent, element: etree._Element, cursor: Fraction
    ) -> None:
        """Take N.C. from a direction; `read_signs` reads everything else in directions."""
        for words in element.iter("words"):
            if says_no_chord((words.text or "").strip()):
                onset = cursor + self._offset(element)
                add_chord(content.chords, max(Fraction(0), onset), None, self.notice)

    def _note(
        self, content: MeasureContent, element: etree._Element, onset: Fraction, together: bool
    ) -> Fraction:
        """Take over a note; returns its length, 0 for a grace note."""
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
        step = one_of(element.findtext("pitch/step", "").strip(), LETTERS)
        if step is None:
            return None
        alter = round(_number(element, "pitch/alter", -2, 2))
        octave = int(_number(element, "pitch/octave", 0, 9))
        written = Pitch(Spelling(step, alter), octave)
        sounding = written.midi + self.transposition.semitones + 12 * self.octaves
        if not 0 <= sounding <= 127:
            return None
        return Pitch.spelled(sounding, written.spelling.up(self.transposition))


def _usual_steps(semitones: int) -> int:
    """Diatonic steps of an interval that a file gives in semitones only: 2 is a second, 1 step."""
    octaves, rest = divmod(semitones, 12)
    return 7 * octaves + (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)[rest]


def _number(element: etree._Element, path: str, least: int, most: int) -> Fraction:
    """The number in the element at `path`, 0 without one. Raises `WrongNumberError`."""
    text = (element.findtext(path) or "").strip()
    if not text:
        return Fraction(0)
    what = f"the {path.rpartition('/')[2]} of <{element.tag}>"
    return read_number(text, what, least, most, line=line_of(element))


def read_signs(measure: etree._Element) -> Signs:
    """All signs of a measure."""
    signs = Signs()
    for element in measure:
        if element.tag == "barline":
            _barline(signs, element)
        elif element.tag == "direction":
            _direction(signs, element)
        if element.tag in ("sound", "direction"):
            for sound in element.iter("sound"):
                _sound(signs, sound)
    return signs


def _barline(signs: Signs, element: etree._Element) -> None:
    left = element.get("location", "right") == "left"
    style = (element.findtext("bar-style") or "").strip()
    if not left and style in ("light-light", "light-heavy", "heavy-heavy", "heavy"):
        signs.sees(double=True)
    repeat = element.find("repeat")
    if repeat is not None:
        if repeat.get("direction") == "forward":
            signs.sees(repeat_start=True)
        else:
            times = repeat.get("times", "2")
            line = line_of(repeat)
            times_in_all = read_whole(times, "the times of a repeat", 0, 99, line=line)
            signs.sees(repeat_end=max(times_in_all, 2))
    ending = element.find("ending")
    if ending is not None:
        if ending.get("type") == "start":
            signs.sees(opens_ending=True)
            signs.ending = ending_numbers(ending.get("number", "1"), line_of(ending))
        else:
            signs.ending_stops = True
    for sign in ("segno", "coda"):
        if element.find(sign) is not None:
            signs.sees(**{sign: True})


def _direction(signs: Signs, element: etree._Element) -> None:
    kinds = element.find("direction-type")
    if kinds is None:
        return
    for sign in element.iter("segno", "coda"):
        signs.sees(**{str(sign.tag): True})
    for rehearsal in element.iter("rehearsal"):
        signs.sees(mark=signs.road.mark or (rehearsal.text or "").strip())
        signs.unboxed |= rehearsal.get("enclosure") == "none"
    text = " ".join((words.text or "").strip() for words in element.iter("words")).strip()
    if text:
        road, line = signs.road, line_of(element)
        signs.sees(
            jump=road.jump or jump_of(text),
            fine=road.fine or says_fine(text),
            through=road.through or times_said(text, line),
            chorus=road.chorus or chorus_number(text, line),
        )
        if says_to_coda(text):
            # the coda sign beside these words says where to leave, not where to arrive
            signs.sees(to_coda=True, coda=False)
    metronome = next(element.iter("metronome"), None)
    if metronome is not None and signs.tempo is None:
        signs.tempo = _metronome(metronome)


def _metronome(element: etree._Element) -> Fraction | None:
    """A metronome mark as whole notes a minute."""
    value = _NOTE_VALUES.get((element.findtext("beat-unit") or "").strip())
    number = re.search(NUMBER_WORD, element.findtext("per-minute") or "")
    if value is None or number is None or element.findall("beat-unit")[1:]:
        return None
    line = line_of(element)
    dots = len(element.findall("beat-unit-dot"))
    if dots > _MOST_DOTS:
        expected = f"at most {_MOST_DOTS}"
        raise WrongNumberError("the dots of a metronome mark", str(dots), expected, line)
    length = Fraction(2 ** (dots + 1) - 1, value * 2**dots)
    return length * read_number(number[0], "the tempo", 0, FASTEST, line=line)


def _sound(signs: Signs, sound: etree._Element) -> None:
    if sound.get("dacapo") == "yes":
        signs.sees(jump=signs.road.jump or "D.C.")
    if sound.get("dalsegno"):
        signs.sees(jump="D.S.")
    if sound.get("fine"):
        signs.sees(fine=True)
    if sound.get("tocoda"):
        signs.sees(to_coda=True, coda=False)
    for sign in ("segno", "coda"):
        if sound.get(sign):
            signs.sees(**{sign: True})
    text = (sound.get("tempo") or "").strip()
    if text and signs.tempo is None:
        per_minute = read_number(text, "the tempo", 0, FASTEST, line=line_of(sound))
        signs.tempo = per_minute / 4 or None
