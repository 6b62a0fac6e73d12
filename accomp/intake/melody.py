"""The melody of a lead sheet in the order played, and the MusicXML file of it.

Conventions: measure n is played bar n of one time through the form; a pickup is measure 0. Times
count whole notes from the first full bar. Pitches are sounding pitches. The file is MusicXML 4.0
with one part, one voice, no repeats and no transposition; its bytes depend on the melody alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import lcm

from lxml import etree

from accomp.harmony import Key, Pitch
from accomp.intake.layout import FormLayout
from accomp.intake.written import WrittenTune
from accomp.time import Meter

_MOST_NOTES = 100_000
_MOST_DIVISIONS = 10**6  # of a quarter; notation programs use some thousands


# Note values of one notehead with up to two dots: name and dots by length in whole notes.
_PARTS = {1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "16th", 32: "32nd", 64: "64th"}
_VALUES = {
    Fraction(2 ** (dots + 1) - 1, share * 2**dots): (name, dots)
    for share, name in _PARTS.items()
    for dots in (0, 1, 2)
}
_TUPLETS = ((3, 2), (5, 4), (7, 4), (9, 8))  # actual notes, in the time of normal notes


@dataclass(frozen=True, slots=True)
class MelodySound:
    """A note or rest (`pitch` None) of the melody; `tied` means tied to the note before."""

    start: Fraction
    end: Fraction
    pitch: Pitch | None
    tied: bool = False


@dataclass(frozen=True, slots=True)
class MelodyMeasure:
    """A measure and its `row` of sounds, which follow one another without a gap and fill it."""

    number: int
    start: Fraction
    length: Fraction
    meter: Meter
    key: Key
    row: tuple[MelodySound, ...] = ()


class MelodyError(ValueError):
    """A melody that cannot be used; the text says why."""


def melody_measures(written: WrittenTune, played: Sequence[FormLayout]) -> list[MelodyMeasure]:
    """The melody in measures, from the pickup on; empty when the lead sheet has no notes.

    Raises `MelodyError`.
    """
    count = sum(len(written.bars[at].notes) for layout in played for at in layout.positions)
    if count > _MOST_NOTES:
        raise MelodyError(f"the melody has {count:,} notes, and at most {_MOST_NOTES:,} are read")
    sounds = _sounds(written, played)
    if not sounds:
        return []
    measures = []
    at = 0
    for empty in _empty_measures(written, played):
        while at < len(sounds) and sounds[at].end <= empty.start:
            at += 1
        measures.append(replace(empty, row=tuple(_within(sounds, at, empty))))
    _divisions(measures)
    return measures


def _divisions(measures: Sequence[MelodyMeasure]) -> int:
    """MusicXML's divisions of a quarter, of which all notes are multiples. Raises `MelodyError`."""
    divisions = 1
    for length in {sound.end - sound.start for measure in measures for sound in measure.row}:
        divisions = lcm(divisions, (4 * length).denominator)
        if divisions > _MOST_DIVISIONS:
            raise MelodyError("the melody's note lengths have no common measure")
    return divisions


def _sounds(written: WrittenTune, played: Sequence[FormLayout]) -> list[MelodySound]:
    """All notes in played order, on one line of time from the first full bar; none overlap."""
    sounds: list[MelodySound] = []
    time = Fraction(0)
    for layout in played:
        for index, position in layout.positions.items():
            for note in written.bars[index].notes:
                start = time + position + note.onset
                if sounds and sounds[-1].end > start:
                    cut = sounds.pop()
                    if cut.start < start:
                        sounds.append(MelodySound(cut.start, start, cut.pitch, cut.tied))
                tied = bool(
                    note.tied
                    and sounds
                    and sounds[-1].end == start
                    and sounds[-1].pitch == note.pitch
                )
                sounds.append(MelodySound(start, start + note.length, note.pitch, tied))
        time += layout.length
    return sounds


def _empty_measures(written: WrittenTune, played: Sequence[FormLayout]) -> Iterator[MelodyMeasure]:
    time = Fraction(0)
    number = 0
    if played[0].pickup:
        opening = next(layout for layout in played if layout.bars)
        key = written.bars[opening.first].key
        yield MelodyMeasure(0, -played[0].pickup, played[0].pickup, opening.meter, key)
    for layout in played:
        for _ in layout.bars:
            number += 1
            key = written.bars[layout.first].key
            yield MelodyMeasure(number, time, layout.meter.bar, layout.meter, key)
            time += layout.meter.bar


def _within(
    sounds: Sequence[MelodySound], at: int, measure: MelodyMeasure
) -> Iterator[MelodySound]:
    """The notes and rests of a measure, from `sounds[at]` on; notes are cut at bar lines."""
    end = measure.start + measure.length
    time = measure.start
    while at < len(sounds) and sounds[at].start < end:
        sound = sounds[at]
        start, stop = max(sound.start, measure.start), min(sound.end, end)
        if start > time:
            yield MelodySound(time, start, None)
        yield MelodySound(start, stop, sound.pitch, sound.tied or start > sound.start)
        time = stop
        at += 1
    if time < end:
        yield MelodySound(time, end, None)


def melody_musicxml(title: str, composer: str, measures: Sequence[MelodyMeasure]) -> bytes:
    """The bytes of the MusicXML file of measures from `melody_measures`."""
    root = etree.Element("score-partwise", version="4.0")
    etree.SubElement(etree.SubElement(root, "work"), "work-title").text = title
    if composer:
        identification = etree.SubElement(root, "identification")
        etree.SubElement(identification, "creator", type="composer").text = composer
    score_part = etree.SubElement(etree.SubElement(root, "part-list"), "score-part", id="P1")
    etree.SubElement(score_part, "part-name").text = "Melody"
    part = etree.SubElement(root, "part", id="P1")
    divisions = _divisions(measures)
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
    """A length divided into note values, the longest first."""
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
