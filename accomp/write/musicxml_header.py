"""What stands before the music in MusicXML: title, composer, the list of parts."""

from __future__ import annotations

from lxml import etree

from accomp.score.written import Part, Score
from accomp.write.xml_text import add, clean


def write_header(root: etree._Element, score: Score) -> None:
    """Work, identification, and the part list with its bracket."""
    if score.title:
        add(add(root, "work"), "work-title", clean(score.title))
    identification = add(root, "identification")
    if score.composer:
        add(identification, "creator", clean(score.composer), type="composer")
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
    add(element, "part-name", clean(part.name))
    instrument = add(element, "score-instrument", id=f"P{number}-I1")
    add(instrument, "instrument-name", clean(part.name))
    midi = add(element, "midi-instrument", id=f"P{number}-I1")
    add(midi, "midi-channel", str(number if number < 10 else number + 1))
    add(midi, "midi-program", str(part.program))
    if part.silent:
        add(midi, "volume", "0")
