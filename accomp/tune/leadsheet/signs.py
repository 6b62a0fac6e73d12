"""The signs of a MusicXML measure: repeats, endings, segno, coda, jumps, marks, tempo.

Conventions: bar lines say repeats and endings; directions say the rest, by `<sound>` attributes
where a file has them and by their words where it has not. Tempo counts whole notes a minute.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction

from lxml import etree

_DA_CAPO = re.compile(r"\b(d\.?\s?c\.?|da\s?capo)(?![a-z])", re.IGNORECASE)
_DAL_SEGNO = re.compile(r"\b(d\.?\s?s\.?|dal\s?segno)(?![a-z])", re.IGNORECASE)
_TO_CODA = re.compile(r"\bto\s+(the\s+)?coda\b", re.IGNORECASE)
_FINE = re.compile(r"\s*fine\.?\s*", re.IGNORECASE)
_NOTE_VALUES = {"whole": 1, "half": 2, "quarter": 4, "eighth": 8, "16th": 16}


@dataclass
class Signs:
    """The signs of one measure; `ending` is None without the start of a bracket."""

    repeat_start: bool = False
    repeat_end: int = 0
    ending: frozenset[int] | None = None
    ending_stops: bool = False
    double: bool = False
    segno: bool = False
    coda: bool = False
    to_coda: bool = False
    fine: bool = False
    jump: str = ""
    mark: str = ""
    tempo: Fraction | None = None
    words: list[str] = field(default_factory=list)


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


def jump_of(words: str) -> str:
    """ "D.C.", "D.S." or ""."""
    if _DAL_SEGNO.search(words):
        return "D.S."
    return "D.C." if _DA_CAPO.search(words) else ""


def says_fine(words: str) -> bool:
    """Whether words are the end of a da capo, and not an instruction that names it."""
    return _FINE.fullmatch(words) is not None


def says_to_coda(words: str) -> bool:
    """Whether words send the player to the coda the second time."""
    return _TO_CODA.search(words) is not None and not jump_of(words)


def _barline(signs: Signs, element: etree._Element) -> None:
    left = element.get("location", "right") == "left"
    style = (element.findtext("bar-style") or "").strip()
    if not left and style in ("light-light", "light-heavy", "heavy-heavy", "heavy"):
        signs.double = True
    repeat = element.find("repeat")
    if repeat is not None:
        if repeat.get("direction") == "forward":
            signs.repeat_start = True
        else:
            times = repeat.get("times", "2")
            signs.repeat_end = min(int(times), 99) if times.isdecimal() and times.isascii() else 2
            signs.repeat_end = max(signs.repeat_end, 2)
    ending = element.find("ending")
    if ending is not None:
        if ending.get("type") == "start":
            signs.ending = ending_numbers(ending.get("number", "1"))
        else:
            signs.ending_stops = True
    signs.segno |= element.find("segno") is not None
    signs.coda |= element.find("coda") is not None


def ending_numbers(text: str) -> frozenset[int]:
    """The numbers over a bracket: "1", "1, 2", "1-3"; none that can be read is the first."""
    numbers: set[int] = set()
    for first, last in re.findall(r"(\d{1,2})(?:\s*-\s*(\d{1,2}))?", text[:40]):
        numbers |= set(range(int(first), int(last or first) + 1))
    return frozenset(numbers - {0}) or frozenset({1})


def _direction(signs: Signs, element: etree._Element) -> None:
    kinds = element.find("direction-type")
    if kinds is None:
        return
    signs.segno |= next(element.iter("segno"), None) is not None
    signs.coda |= next(element.iter("coda"), None) is not None
    for rehearsal in element.iter("rehearsal"):
        signs.mark = signs.mark or (rehearsal.text or "").strip()
    text = " ".join((words.text or "").strip() for words in element.iter("words")).strip()
    if text:
        signs.words.append(text)
        signs.jump = signs.jump or jump_of(text)
        signs.fine |= says_fine(text)
        if says_to_coda(text):
            # the coda sign beside these words is where the road leaves, not where it arrives
            signs.to_coda, signs.coda = True, False
    metronome = next(element.iter("metronome"), None)
    if metronome is not None and signs.tempo is None:
        signs.tempo = _metronome(metronome)


def _metronome(element: etree._Element) -> Fraction | None:
    """A metronome mark as whole notes a minute."""
    value = _NOTE_VALUES.get((element.findtext("beat-unit") or "").strip())
    number = re.search(r"\d+(\.\d+)?", element.findtext("per-minute") or "")
    if value is None or number is None or element.findall("beat-unit")[1:]:
        return None
    dots = len(element.findall("beat-unit-dot"))
    length = Fraction(2 ** (dots + 1) - 1, value * 2**dots)
    return Fraction(number[0][:12]) * length


def _sound(signs: Signs, sound: etree._Element) -> None:
    if sound.get("dacapo") == "yes":
        signs.jump = signs.jump or "D.C."
    if sound.get("dalsegno"):
        signs.jump = "D.S."
    if sound.get("fine"):
        signs.fine = True
    if sound.get("tocoda"):
        signs.to_coda, signs.coda = True, False
    signs.segno |= bool(sound.get("segno"))
    if sound.get("coda"):
        signs.coda = True
    number = re.fullmatch(r"\s*(\d{1,5}(\.\d{1,6})?)\s*", sound.get("tempo") or "")
    if number and signs.tempo is None and Fraction(number[1]) > 0:
        signs.tempo = Fraction(number[1]) / 4
