"""A score as MusicXML 4.0.

Conventions: partwise, UTF-8, no dates, so that equal scores give equal bytes. Durations are whole
numbers of `divisions` of a quarter, one number for the whole file. Notes and measures carry ids
("p1-m3", "p1-m3-n2"). What each reader keeps of an encoding was tried before it was chosen; the
tests read the result back with several.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import count
from math import lcm
from pathlib import Path

from lxml import etree

from accomp.score.written import Barline, Measure, Part, Score
from accomp.write.musicxml_attributes import write_attributes
from accomp.write.musicxml_harmony import write_harmony
from accomp.write.musicxml_header import write_header
from accomp.write.musicxml_note import write_event
from accomp.write.musicxml_words import write_rehearsal, write_tempo, write_words
from accomp.write.musicxml_zip import zipped
from accomp.write.xml_text import add, clean

_DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)


def write_musicxml(score: Score, path: Path) -> None:
    """Write `score` to `path`, compressed when the name ends in .mxl.

    Raises `OSError` as the system says it.
    """
    data = musicxml_bytes(score)
    path.write_bytes(zipped(data) if path.suffix == ".mxl" else data)


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
    """The least number of parts of a quarter in which every event is whole."""
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
    if first_part and measure.rehearsal:
        write_rehearsal(element, clean(measure.rehearsal))
    if first_part and first:
        write_tempo(element, score)
    if first_part and measure.words:
        write_words(element, clean(measure.words))
    ids = (f"{name}-n{number}" for number in count(1))
    _write_events(element, part, measure, divisions, ids)
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


def _write_left_barline(element: etree._Element, measure: Measure) -> None:
    barline = add(element, "barline", location="left")
    if measure.repeat_start:
        add(barline, "bar-style", "heavy-light")
    if measure.ending_edge.startswith("start"):
        numbers = ",".join(str(number) for number in measure.ending)
        add(barline, "ending", number=numbers, type="start")
    if measure.repeat_start:
        add(barline, "repeat", direction="forward")


def _write_right_barline(element: etree._Element, measure: Measure) -> None:
    ends = measure.ending_edge.removeprefix("start").removeprefix("+")
    if measure.barline == Barline.REGULAR and not measure.repeat_end and not ends:
        return
    barline = add(element, "barline", location="right")
    if measure.repeat_end or measure.barline == Barline.FINAL:
        add(barline, "bar-style", "light-heavy")
    elif measure.barline == Barline.DOUBLE:
        add(barline, "bar-style", "light-light")
    if ends:
        numbers = ",".join(str(number) for number in measure.ending)
        add(barline, "ending", number=numbers, type=ends)
    if measure.repeat_end:
        repeat = add(barline, "repeat", direction="backward")
        if measure.repeat_end > 2:
            repeat.set("times", str(measure.repeat_end))
