"""Words over the staff in MusicXML: tempo with its swing, rehearsal marks, changes of style.

Conventions: words come before the metronome mark in one direction, since readers print the
other order, or two directions, badly. `sound` carries quarters a minute whatever the beat.
"""

from __future__ import annotations

from fractions import Fraction

from lxml import etree

from accomp.score.written import Score
from accomp.write.musicxml_note import TYPES
from accomp.write.xml_text import add, clean


def write_rehearsal(element: etree._Element, text: str) -> None:
    """A boxed name at the start of a section."""
    direction = add(element, "direction", placement="above")
    add(add(direction, "direction-type"), "rehearsal", text, enclosure="square")


def write_words(element: etree._Element, text: str) -> None:
    """Plain words over the start of a measure."""
    direction = add(element, "direction", placement="above")
    add(add(direction, "direction-type"), "words", text)


def write_tempo(element: etree._Element, score: Score) -> None:
    """The style's name, the metronome mark, and the feel for readers that play it."""
    direction = add(element, "direction", placement="above")
    words = clean(feel_words(score))
    if words:
        add(add(direction, "direction-type"), "words", words + " ")
    metronome = add(add(direction, "direction-type"), "metronome")
    dotted = score.beat.numerator == 3
    add(metronome, "beat-unit", TYPES[score.beat * Fraction(2, 3) if dotted else score.beat])
    if dotted:
        add(metronome, "beat-unit-dot")
    add(metronome, "per-minute", f"{score.tempo:g}")
    quarters = score.tempo * float(score.beat) * 4
    sound = add(direction, "sound", tempo=f"{quarters:g}")
    if score.swing != 1:
        ratio = Fraction(score.swing).limit_denominator(10)
        swing = add(sound, "swing")
        add(swing, "first", str(ratio.numerator))
        add(swing, "second", str(ratio.denominator))
        add(swing, "swing-type", "eighth")


def feel_words(score: Score) -> str:
    """The style's name, and that it swings when its name does not say so."""
    if score.swing == 1 or "swing" in score.feel.lower():
        return score.feel
    return f"{score.feel}, swing" if score.feel else "Swing"
