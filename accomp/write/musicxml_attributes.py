"""Clefs, keys, meters, transposition and string tunings in MusicXML.

Conventions: staff lines count from the lowest; on TAB the lowest line is the highest-numbered
string.
"""

from __future__ import annotations

from lxml import etree

from accomp.harmony import Interval
from accomp.neck import Instrument
from accomp.score.written import Measure, Part, PartKind
from accomp.write.xml_text import add


def write_attributes(
    element: etree._Element, part: Part, measure: Measure, divisions: int | None
) -> None:
    """What changes at the start of `measure`; `divisions` is given in the first one."""
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
