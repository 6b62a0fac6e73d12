"""The melody beside a tune file, written as MusicXML 4.0.

Conventions: one part, one voice, no repeats, no transposition; measure n is bar n of a time through
the form and a pickup is measure 0. The bytes depend on the melody alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import lcm

from lxml import etree

from accomp.harmony import Pitch
from accomp.tune.leadsheet.melody import MelodyMeasure

# Note values that one sign can show, with up to two dots: length of a whole note, name, dots.
_PARTS = {1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "16th", 32: "32nd", 64: "64th"}
_VALUES = {
    Fraction(2 ** (dots + 1) - 1, part * 2**dots): (name, dots)
    for part, name in _PARTS.items()
    for dots in (0, 1, 2)
}
_TUPLETS = ((3, 2), (5, 4), (7, 4), (9, 8))  # so many in the time of so many


def melody_musicxml(title: str, composer: str, measures: Sequence[MelodyMeasure]) -> bytes:
    """The file, from measures that `melody_measures` gave."""
    root = etree.Element("score-partwise", version="4.0")
    etree.SubElement(etree.SubElement(root, "work"), "work-title").text = title
    if composer:
        identification = etree.SubElement(root, "identification")
        etree.SubElement(identification, "creator", type="composer").text = composer
    score_part = etree.SubElement(etree.SubElement(root, "part-list"), "score-part", id="P1")
    etree.SubElement(score_part, "part-name").text = "Melody"
    part = etree.SubElement(root, "part", id="P1")
    # Divisions of a quarter that every note is a whole number of.
    divisions = lcm(*((4 * (s.end - s.start)).denominator for m in measures for s in m.row))
    for index, measure in enumerate(measures):
        before = measures[index - 1] if index else None
        after = measures[index + 1] if index + 1 < len(measures) else None
        _measure(part, before, measure, after, divisions)
    text = etree.tostring(root, encoding="UTF-8", xml_declaration=True, pretty_print=True)
    return bytes(text)


def _measure(
    part: etree._Element,
    before: MelodyMeasure | None,
    measure: MelodyMeasure,
    after: MelodyMeasure | None,
    divisions: int,
) -> None:
    element = etree.SubElement(part, "measure", number=str(measure.number))
    if measure.number == 0:
        element.set("implicit", "yes")
    new_key = before is None or before.key != measure.key
    new_meter = before is None or before.meter != measure.meter
    if new_key or new_meter:
        attributes = etree.SubElement(element, "attributes")
        if before is None:
            etree.SubElement(attributes, "divisions").text = str(divisions)
        if new_key:
            key = etree.SubElement(attributes, "key")
            etree.SubElement(key, "fifths").text = str(measure.key.fifths)
            etree.SubElement(key, "mode").text = "minor" if measure.key.minor else "major"
        if new_meter:
            time = etree.SubElement(attributes, "time")
            beats, beat_type = str(measure.meter).split("/")
            etree.SubElement(time, "beats").text = beats
            etree.SubElement(time, "beat-type").text = beat_type
        if before is None:
            clef = etree.SubElement(attributes, "clef")
            etree.SubElement(clef, "sign").text = "G"
            etree.SubElement(clef, "line").text = "2"
    following = [*measure.row[1:], *(after.row[:1] if after else ())]
    for index, sound in enumerate(measure.row):
        goes_on = index < len(following) and following[index].tied
        pieces = list(_pieces(sound.end - sound.start))
        for number, length in enumerate(pieces):
            stop = sound.tied or number > 0
            start = goes_on or number < len(pieces) - 1
            _note(element, sound.pitch, length, divisions, stop, start)


def _pieces(length: Fraction) -> Iterator[Fraction]:
    """A length in values that one note can show, the longest first."""
    while length > 0:
        if length in _VALUES or _tuplet(length):
            yield length
            return
        longest = max((value for value in _VALUES if value < length), default=length)
        yield longest
        length -= longest


def _tuplet(length: Fraction) -> tuple[int, int] | None:
    for actual, normal in _TUPLETS:
        if length * actual / normal in _VALUES:
            return actual, normal
    return None


def _note(
    measure: etree._Element,
    pitch: Pitch | None,
    length: Fraction,
    divisions: int,
    stop: bool,
    start: bool,
) -> None:
    note = etree.SubElement(measure, "note")
    ties = [kind for kind, is_it in (("stop", stop), ("start", start)) if is_it and pitch]
    if pitch is None:
        etree.SubElement(note, "rest")
    else:
        element = etree.SubElement(note, "pitch")
        etree.SubElement(element, "step").text = pitch.spelling.step
        if pitch.spelling.alter:
            etree.SubElement(element, "alter").text = str(pitch.spelling.alter)
        etree.SubElement(element, "octave").text = str(pitch.octave)
    etree.SubElement(note, "duration").text = str(4 * length * divisions)
    for kind in ties:
        etree.SubElement(note, "tie", type=kind)
    etree.SubElement(note, "voice").text = "1"
    tuplet = None if length in _VALUES else _tuplet(length)
    shown = length * tuplet[0] / tuplet[1] if tuplet else length
    if shown in _VALUES:
        name, dots = _VALUES[shown]
        etree.SubElement(note, "type").text = name
        for _ in range(dots):
            etree.SubElement(note, "dot")
    if tuplet:
        modification = etree.SubElement(note, "time-modification")
        etree.SubElement(modification, "actual-notes").text = str(tuplet[0])
        etree.SubElement(modification, "normal-notes").text = str(tuplet[1])
    if ties:
        notations = etree.SubElement(note, "notations")
        for kind in ties:
            etree.SubElement(notations, "tied", type=kind)
