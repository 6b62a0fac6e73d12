"""What MusicXML is written of in tests: notes, a measure, a part, a score; and the writing."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hand_made import BANJO
from lxml import etree

from accomp.harmony import Key, Pitch
from accomp.score.written import (
    Clef,
    Event,
    Measure,
    NoteValue,
    Part,
    PartKind,
    Score,
    WrittenNote,
)
from accomp.time import Meter

FOUR = Meter.parse("4/4")


def inside(write, *args, **how) -> str:
    """What is written into an element."""
    parent = etree.Element("in")
    write(parent, *args, **how)
    text = etree.tostring(parent, encoding="unicode")
    return text.removeprefix("<in>").removesuffix("</in>").removesuffix("<in/>")


def measure(**more) -> Measure:
    rest = Event(Fraction(0), NoteValue(Fraction(1)), whole_measure=True)
    return replace(Measure(3, Fraction(1), FOUR, Key.parse("F"), (rest,)), **more)


def value(length: str, dots: int = 0, tuplet: tuple[int, int] = (1, 1)) -> NoteValue:
    return NoteValue(Fraction(length), dots, tuplet)


B3 = WrittenNote(Pitch.parse("Bb3"), -1, 2, 5)
D4 = WrittenNote(Pitch.parse("D4"), None, 1, 12)

PART = Part("Tenor banjo", PartKind.NOTATION, Clef("G", 2, -1), 106, (measure(),), BANJO)


def score(*parts: Part, **more) -> Score:
    made = Score("Kettle Lane", "", 168.0, Fraction(1, 4), 1.0, "Even four", parts or (PART,))
    return replace(made, **more)
