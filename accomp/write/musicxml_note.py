"""Notes and rests in MusicXML.

Conventions: of a chord the lowest note comes first and carries beams, bow marks and articulations;
ties and noteheads stand on every note. On TAB no accidentals, beams, bow marks or articulations are
written, only string and fret, since programs lose the rest there.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from lxml import etree

from accomp.rhythm.stroke import StrokeDirection
from accomp.score.written import Bracket, Event, Mark, NoteValue, PartKind, WrittenNote

TYPES = {
    Fraction(2): "breve",
    Fraction(1): "whole",
    Fraction(1, 2): "half",
    Fraction(1, 4): "quarter",
    Fraction(1, 8): "eighth",
    Fraction(1, 16): "16th",
    Fraction(1, 32): "32nd",
    Fraction(1, 64): "64th",
    Fraction(1, 128): "128th",
}
ACCIDENTALS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
_ARTICULATIONS = ((Mark.ACCENT, "accent"), (Mark.CHOKED, "staccato"))
_BOWS = {StrokeDirection.DOWN: "down-bow", StrokeDirection.UP: "up-bow"}


def add(
    parent: etree._Element, tag: str, content: str = "", /, **attributes: str
) -> etree._Element:
    """A new last child of `parent`, with its text content and attributes."""
    element = etree.SubElement(parent, tag, attributes)
    if content:
        element.text = content
    return element


def write_event(
    measure: etree._Element,
    event: Event,
    kind: PartKind,
    length: int,
    new_id: Callable[[], str],
    *,
    show_rests: bool,
) -> None:
    """The `note` elements of an event of `length` divisions in a part of `kind`.

    Without `show_rests` a rest is not printed: on TAB under notation, which shows it.
    """
    if not event.notes:
        _write_rest(measure, event, length, new_id(), show=show_rests)
        return
    for index, note in enumerate(event.notes):
        element = add(measure, "note", id=new_id())
        _write_note(element, event, note, kind, length, first=index == 0)


def _write_rest(
    measure: etree._Element, event: Event, length: int, name: str, *, show: bool
) -> None:
    element = add(measure, "note", id=name)
    if not show:
        element.set("print-object", "no")
    add(element, "rest", **{"measure": "yes"} if event.whole_measure else {})
    add(element, "duration", str(length))
    add(element, "voice", "1")
    if not event.whole_measure:
        _write_value(element, event.value)
        _write_tuplet_ratio(element, event.value)
    if event.bracket:
        _write_bracket(add(element, "notations"), event.bracket, show=show)


def _write_value(element: etree._Element, value: NoteValue) -> None:
    add(element, "type", TYPES[value.length])
    for _ in range(value.dots):
        add(element, "dot")


def _write_tuplet_ratio(element: etree._Element, value: NoteValue) -> None:
    actual, normal = value.tuplet
    if actual != normal:
        change = add(element, "time-modification")
        add(change, "actual-notes", str(actual))
        add(change, "normal-notes", str(normal))


def _write_bracket(notations: etree._Element, edge: Bracket, *, show: bool) -> None:
    for one in edge.split("+"):
        tuplet = add(notations, "tuplet", type=one)
        if not show:
            tuplet.set("bracket", "no")
            tuplet.set("show-number", "none")


def _write_note(
    element: etree._Element,
    event: Event,
    note: WrittenNote,
    kind: PartKind,
    length: int,
    *,
    first: bool,
) -> None:
    if not first:
        add(element, "chord")
    spelling = note.pitch.spelling
    pitch = add(element, "pitch")
    add(pitch, "step", spelling.step)
    if spelling.alter:
        add(pitch, "alter", str(spelling.alter))
    add(pitch, "octave", str(note.pitch.octave))
    add(element, "duration", str(length))
    if event.tied_from:
        add(element, "tie", type="stop")
    if event.tied_to:
        add(element, "tie", type="start")
    add(element, "voice", "1")
    _write_value(element, event.value)
    if note.accidental is not None and kind != PartKind.TAB:
        add(element, "accidental", ACCIDENTALS[note.accidental])
    _write_tuplet_ratio(element, event.value)
    if kind == PartKind.TAB:
        add(element, "stem", "none")
    if kind == PartKind.SLASH:
        add(element, "notehead", "slash")
    elif Mark.DEAD in event.marks:
        add(element, "notehead", "x")
    if first and kind != PartKind.TAB:
        for number, beam in enumerate(event.beams, 1):
            add(element, "beam", beam, number=str(number))
    _write_notations(element, event, note, kind, first=first)


def _write_notations(
    element: etree._Element, event: Event, note: WrittenNote, kind: PartKind, *, first: bool
) -> None:
    notations = etree.Element("notations")
    if event.tied_from:
        add(notations, "tied", type="stop")
    if event.tied_to:
        add(notations, "tied", type="start")
    if first and event.bracket:
        _write_bracket(notations, event.bracket, show=kind != PartKind.TAB)
    if first and kind != PartKind.TAB and event.tremolo:
        add(add(notations, "ornaments"), "tremolo", str(event.tremolo), type="single")
    if kind == PartKind.TAB and note.string is not None and note.fret is not None:
        technical = add(notations, "technical")
        add(technical, "string", str(note.string))
        add(technical, "fret", str(note.fret))
    elif first and event.direction:
        add(add(notations, "technical"), _BOWS[event.direction])
    if first and kind != PartKind.TAB and not event.marks.isdisjoint({Mark.ACCENT, Mark.CHOKED}):
        articulations = add(notations, "articulations")
        for mark, name in _ARTICULATIONS:
            if mark in event.marks:
                add(articulations, name)
    if Mark.ROLL in event.marks and kind != PartKind.TAB:  # a down-stroke goes from low to high
        way = "up" if event.direction == StrokeDirection.DOWN else "down"
        add(notations, "arpeggiate", direction=way)
    if len(notations):
        element.append(notations)
