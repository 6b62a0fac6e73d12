"""Endings with the same chords are one section with their passage; all others stay endings."""

from __future__ import annotations

from fractions import Fraction

import pytest

from accomp.harmony import Key, parse_chord
from accomp.intake.sections import rejoined
from accomp.time import Meter, Span
from accomp.tune import Bar, ChordSpan, Section


def section(name: str, chords: str, key: str = "C") -> Section:
    span = Span(Fraction(0), Fraction(1))
    bars = tuple(Bar((ChordSpan(parse_chord(symbol), span),)) for symbol in chords.split())
    return Section(name, bars, Key.parse(key), Meter.parse("4/4"))


def chords(found: Section) -> str:
    return " ".join(str(bar.chords[0].chord) for bar in found.bars)


def run(form: str, **sections: str) -> tuple[dict[str, str], str]:
    made = {
        name.replace("_", "-").replace("x", " "): section(name, text)
        for name, text in sections.items()
    }
    out, order = rejoined(made, form.split(","))
    return {name: chords(found) for name, found in out.items()}, ",".join(order)


def test_equal_endings_are_rejoined():
    assert run("A,A-1,A,A-2,B", A="C F", A_1="G7 C", A_2="G7 C", B="F") == (
        {"A": "C F G7 C", "B": "F"},
        "A,A,B",
    )


def test_a_later_whole_section_of_the_mark_takes_its_name():
    found = run("A,A-1,A,A-2,A 2", A="C F", A_1="G7", A_2="G7", Ax2="C F G7")
    assert found == ({"A": "C F G7"}, "A,A,A")


@pytest.mark.parametrize(
    ("form", "sections"),
    [
        ("A,A-1,A,A-2", {"A": "C", "A_1": "G7", "A_2": "F"}),  # other chords
        ("A,A-1,A", {"A": "C", "A_1": "G7"}),  # once without an ending
        ("A,A-1,A,A-2,A-2", {"A": "C", "A_1": "G7", "A_2": "G7"}),  # an ending alone
        ("A,B,A,B", {"A": "C", "B": "G7"}),  # no ending by its name
    ],
)
def test_everything_else_stays(form, sections):
    found, order = run(form, **sections)
    assert order == form
    assert found == {name.replace("_", "-"): text for name, text in sections.items()}
