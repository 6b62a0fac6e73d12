"""Sections from a line of text, and a line of text from sections.

"C.F" are two bars; "C.F[G][D]{E}@1" has endings for two times, one for the last, and is left for
the coda after its first bar; "C.F*1-2x3" repeats its second bar. "D!C.F" is in the key of D.
"""

from __future__ import annotations

import re
from fractions import Fraction

from accomp.harmony import Key, parse_chord
from accomp.time import Meter, Span
from accomp.tune import Bar, ChordSpan, Section

_SECTION = re.compile(r"(?:(\w+)!)?([\w.]*)")


def bars_of(text: str) -> tuple[Bar, ...]:
    span = Span(Fraction(0), Fraction(1))
    return tuple(
        Bar((ChordSpan(parse_chord(symbol), span),)) for symbol in text.split(".") if symbol
    )


def section(name: str, text: str) -> Section:
    match = _SECTION.fullmatch(text)
    assert match is not None, text
    return Section(name, bars_of(match[2]), Key.parse(match[1] or "C"), Meter.parse("4/4"))


def _chords(bars: tuple[Bar, ...]) -> str:
    return ".".join(str(bar.chords[0].chord) for bar in bars)


def shown(one: Section) -> str:
    key = "" if str(one.key) == "C" else f"{one.key}!"
    repeats = "".join(f"*{each.first}-{each.last}x{each.times}" for each in one.repeats)
    ends = "".join(f"[{_chords(ending)}]" for ending in one.endings)
    last = f"{{{_chords(one.last)}}}" if one.last else ""
    leaves = "" if one.to_coda is None else f"@{one.to_coda}"
    return f"{key}{_chords(one.bars)}{repeats}{ends}{last}{leaves}"
