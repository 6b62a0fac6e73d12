"""A score as MusicXML 4.0: the file, its header, measures with their attributes, and .mxl.

Conventions: partwise, UTF-8, no dates, so that equal scores give equal bytes. Durations are whole
numbers of `divisions` of a quarter, one number for the whole file. Notes and measures carry ids
("p1-m3", "p1-m3-n2"). Staff lines count from the lowest; on TAB the lowest line is the
highest-numbered string. Where several encodings are possible, the one was chosen of which programs
were found to keep most; the tests read the result back with several.

A .mxl file is a zip with the score and a note that says where it is ("Compressed .MXL files",
MusicXML 4.0). Times inside it are fixed: 1 January 1980, the earliest that zip can say.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator, Mapping
from fractions import Fraction
from itertools import count
from math import lcm
from typing import Literal

from lxml import etree

from accomp.files.text import xml_text
from accomp.harmony import Interval
from accomp.neck import Instrument
from accomp.score.written import Barline, EndingEdge, Measure, Part, PartKind, Score
from accomp.write.musicxml_directions import (
    write_arrival,
    write_departures,
    write_harmony,
    write_rehearsal,
    write_tempo,
    write_words,
)
from accomp.write.musicxml_note import add, write_event

_DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)


def musicxml_bytes(score: Score) -> bytes:
    """The bytes of the file; equal scores give equal bytes."""
    return bytes(
        etree.tostring(
            musicxml_root(score),
            xml_declaration=True,
            encoding="UTF-8",
            doctype=_DOCTYPE,
            pretty_print=True,
        )
    )


def musicxml_root(score: Score) -> etree._Element:
    """The document's root element."""
    root = etree.Element("score-partwise", version="4.0")
    write_header(root, score)
    divisions = _divisions(score)
    for number, part in enumerate(score.parts, 1):
        element = add(root, "part", id=f"P{number}")
        for measure in part.measures:
            _write_measure(element, score, part, measure, number, divisions)
    return root


def _divisions(score: Score) -> int:
    """The smallest number of parts of a quarter in which every time is a whole number."""
    denominators = {
        (number * 4).denominator
        for part in score.parts
        for measure in part.measures
        for event in measure.events
        for number in (event.start, Fraction(0) if event.whole_measure else event.value.duration)
    }
    marks = {
        (mark.start * 4).denominator
        for part in score.parts
        for measure in part.measures
        for mark in measure.chords
    }
    bars = {(measure.length * 4).denominator for part in score.parts for measure in part.measures}
    return lcm(2, *denominators, *marks, *bars)


def _write_measure(
    parent: etree._Element,
    score: Score,
    part: Part,
    measure: Measure,
    part_number: int,
    divisions: int,
) -> None:
    first_part, first = part_number == 1, measure is part.measures[0]
    name = f"p{part_number}-m{measure.number}"
    element = add(parent, "measure", number=str(measure.number), id=name)
    if measure.implicit:
        element.set("implicit", "yes")
    if measure.repeat_start or measure.ending_edge.startswith("start"):
        _write_left_barline(element, measure)
    write_attributes(element, part, measure, divisions if first else None)
    if measure.segno or measure.coda:
        write_arrival(element, measure)
    if first_part and measure.rehearsal:
        write_rehearsal(element, xml_text(measure.rehearsal), boxed=not measure.added)
    if first_part and first:
        write_tempo(element, score)
    if first_part and measure.words:
        write_words(element, xml_text(measure.words))
    ids = (f"{name}-n{number}" for number in count(1))
    _write_events(element, part, measure, divisions, ids)
    write_departures(element, measure)
    _write_right_barline(element, measure)


def _write_events(
    element: etree._Element, part: Part, measure: Measure, divisions: int, ids: Iterator[str]
) -> None:
    marks = list(measure.chords)
    for event in measure.events:
        length = measure.length if event.whole_measure else event.value.duration
        while marks and marks[0].start < event.start + length:
            mark = marks.pop(0)
            write_harmony(element, mark, _ticks(mark.start - event.start, divisions))
        write_event(
            element,
            event,
            part.kind,
            _ticks(length, divisions),
            lambda: next(ids),
            show_rests=not part.silent,
        )


def _ticks(length: Fraction, divisions: int) -> int:
    ticks = length * 4 * divisions
    assert ticks.denominator == 1, "divisions hold every event"
    return ticks.numerator


_BracketEnd = Literal["start", "stop", "discontinue"]
# How a bracket ends in a measure, for measures in which one ends.
_ENDS: Mapping[EndingEdge, _BracketEnd] = {
    "stop": "stop",
    "start+stop": "stop",
    "discontinue": "discontinue",
    "start+discontinue": "discontinue",
}


def _write_left_barline(element: etree._Element, measure: Measure) -> None:
    barline = add(element, "barline", location="left")
    if measure.repeat_start:
        add(barline, "bar-style", "heavy-light")
    if measure.ending_edge.startswith("start"):
        _write_ending(barline, measure, "start")
    if measure.repeat_start:
        add(barline, "repeat", direction="forward")


def _write_right_barline(element: etree._Element, measure: Measure) -> None:
    ends = _ENDS.get(measure.ending_edge)
    if measure.barline == Barline.REGULAR and not measure.repeat_end and not ends:
        return
    barline = add(element, "barline", location="right")
    if measure.repeat_end or measure.barline == Barline.FINAL:
        add(barline, "bar-style", "light-heavy")
    elif measure.barline == Barline.DOUBLE:
        add(barline, "bar-style", "light-light")
    if ends:
        _write_ending(barline, measure, ends)
    if measure.repeat_end:
        repeat = add(barline, "repeat", direction="backward")
        if measure.repeat_end > 2 and not measure.ending:  # brackets say it themselves
            repeat.set("times", str(measure.repeat_end))


def _write_ending(barline: etree._Element, measure: Measure, edge: _BracketEnd) -> None:
    """The start or end of a bracket; of more than two times in a row, the first and last are
    printed."""
    numbers = measure.ending
    text = ""
    if edge == "start" and len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
        text = f"{numbers[0]}.–{numbers[-1]}."
    add(barline, "ending", text, number=",".join(map(str, numbers)), type=edge)


def write_header(root: etree._Element, score: Score) -> None:
    """Work, identification, and the part list with its bracket."""
    if score.title:
        add(add(root, "work"), "work-title", xml_text(score.title))
    identification = add(root, "identification")
    if score.composer:
        add(identification, "creator", xml_text(score.composer), type="composer")
    encoding = add(identification, "encoding")
    add(encoding, "software", "accomp")
    for element in ("accidental", "beam"):
        add(encoding, "supports", element=element, type="yes")
    parts = add(root, "part-list")
    if score.bracketed > 1:
        group = add(parts, "part-group", number="1", type="start")
        add(group, "group-symbol", "bracket")
        add(group, "group-barline", "yes")
    for number, part in enumerate(score.parts, 1):
        _write_part(parts, part, number)
        if score.bracketed > 1 and number == score.bracketed:
            add(parts, "part-group", number="1", type="stop")


def _write_part(parts: etree._Element, part: Part, number: int) -> None:
    element = add(parts, "score-part", id=f"P{number}")
    add(element, "part-name", xml_text(part.name))
    instrument = add(element, "score-instrument", id=f"P{number}-I1")
    add(instrument, "instrument-name", xml_text(part.name))
    midi = add(element, "midi-instrument", id=f"P{number}-I1")
    add(midi, "midi-channel", str(number if number < 10 else number + 1))
    add(midi, "midi-program", str(part.program))
    if part.silent:
        add(midi, "volume", "0")


def write_attributes(
    element: etree._Element, part: Part, measure: Measure, divisions: int | None
) -> None:
    """The attributes that change at the start of `measure`; `divisions` is given for the first
    measure."""
    first = divisions is not None
    moved = measure.transpose is not None
    if not (first or measure.new_key or measure.new_meter or measure.rests or moved):
        return
    attributes = add(element, "attributes")
    if first:
        add(attributes, "divisions", str(divisions))
    if first or measure.new_key:
        key = add(attributes, "key")
        add(key, "fifths", str(measure.key.fifths))
        add(key, "mode", "minor" if measure.key.minor else "major")
    if first or measure.new_meter:
        time = add(attributes, "time")
        add(time, "beats", str(measure.meter.count))
        add(time, "beat-type", str(measure.meter.unit.denominator))
    if first:
        _write_clef(attributes, part)
        if part.kind == PartKind.TAB and part.instrument is not None:
            _write_tuning(attributes, part.instrument)
    if measure.transpose is not None:
        _write_transpose(attributes, measure.transpose)
    if measure.rests:
        add(add(attributes, "measure-style"), "multiple-rest", str(measure.rests))


def _write_clef(attributes: etree._Element, part: Part) -> None:
    clef = add(attributes, "clef")
    add(clef, "sign", part.clef.sign)
    add(clef, "line", str(part.clef.line))
    if part.clef.octave:
        add(clef, "clef-octave-change", str(part.clef.octave))


def _write_tuning(attributes: etree._Element, instrument: Instrument) -> None:
    details = add(attributes, "staff-details", **{"show-frets": "numbers"})
    add(details, "staff-lines", str(len(instrument.strings)))
    for line, pitch in enumerate(instrument.strings, 1):
        tuning = add(details, "staff-tuning", line=str(line))
        add(tuning, "tuning-step", pitch.spelling.step)
        if pitch.spelling.alter:
            add(tuning, "tuning-alter", str(pitch.spelling.alter))
        add(tuning, "tuning-octave", str(pitch.octave))


def _write_transpose(attributes: etree._Element, interval: Interval) -> None:
    """From the written to the sounding pitch; octaves stand apart, both with the same sign."""
    octaves = int(interval.semitones / 12)
    transpose = add(attributes, "transpose")
    add(transpose, "diatonic", str(interval.steps - 7 * octaves))
    add(transpose, "chromatic", str(interval.semitones - 12 * octaves))
    if octaves:
        add(transpose, "octave-change", str(octaves))


_CONTAINER = """<?xml version="1.0" encoding="UTF-8"?>
<container>
  <rootfiles>
    <rootfile full-path="score.musicxml" media-type="application/vnd.recordare.musicxml+xml"/>
  </rootfiles>
</container>
"""
_TYPE = b"application/vnd.recordare.musicxml"


def zipped(musicxml: bytes) -> bytes:
    """The bytes of a .mxl file that holds one score."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        # The type comes first and unpacked, so that it can be read without unzipping.
        _put(archive, "mimetype", _TYPE, zipfile.ZIP_STORED)
        _put(archive, "META-INF/container.xml", _CONTAINER.encode(), zipfile.ZIP_DEFLATED)
        _put(archive, "score.musicxml", musicxml, zipfile.ZIP_DEFLATED)
    return buffer.getvalue()


def _put(archive: zipfile.ZipFile, name: str, data: bytes, how: int) -> None:
    info = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
    info.compress_type = how
    info.external_attr = 0o644 << 16
    info.create_system = 3  # the same on every system
    archive.writestr(info, data)
