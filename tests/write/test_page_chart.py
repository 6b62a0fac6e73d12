"""The chord chart in figures: shares, sizes, rows, signs, sections."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hand_made import FOUR, arrangement

from accomp.harmony import Key, Pitch, parse_chord
from accomp.score.written import ChordMark, Event, Jump, Measure, NoteValue, WrittenNote
from accomp.time import Meter
from accomp.write import (
    sheet_chart,
    sheet_tune,
)
from accomp.write.page_text import PageText
from accomp.write.pages import PageMaterials


def measure(**more: Any) -> Measure:
    note = WrittenNote(Pitch.parse("C4"), None, 1, 3)
    event = Event(Fraction(0), NoteValue(Fraction(1, 4)), (note,))
    return replace(
        Measure(1, Fraction(1), Meter.parse("4/4"), Key.parse("F"), (event,) * 4), **more
    )


# The chart


@pytest.mark.parametrize(
    ("times", "text"),
    [((1,), "1."), ((1, 2), "1. 2."), ((1, 2, 3), "1.–3."), ((2, 3, 4, 5), "2.–5."),
     ((1, 2, 4), "1. 2. 4."), ((1, 3, 4, 6), "1. 3. 4. 6.")],
)  # fmt: skip
def test_over_a_bracket_stand_its_times(times, text):
    assert sheet_chart._times(times) == text


def chord(at: str, symbol: str = "F") -> ChordMark:
    return ChordMark(Fraction(at), parse_chord(symbol), None)


@pytest.mark.parametrize(
    ("marks", "cells"),
    [
        ((), [("–", 1.0)]),
        ((chord("0"),), [("F", 1.0)]),
        ((chord("1/4"),), [("–", 0.25), ("F", 0.75)]),
        ((chord("0"), chord("3/4", "Bb7")), [("F", 0.75), ("B♭7", 0.25)]),
        ((chord("0"), ChordMark(Fraction(1, 2), None, None)), [("F", 0.5), ("N.C.", 0.5)]),
    ],
)
def test_chords_of_a_bar_have_their_shares_of_it(marks, cells):
    assert list(sheet_chart._cells(measure(chords=marks))) == cells


def test_a_bar_of_the_chart_has_its_signs():
    def bar(**more: Any) -> dict[str, Any]:
        made = sheet_chart._chart_bar(measure(**more))
        usual = sheet_chart._ChartBar(made.cells)
        return {
            name: getattr(made, name)
            for name in made.__dataclass_fields__
            if getattr(made, name) != getattr(usual, name)
        }

    assert bar() == {}
    assert bar(repeat_start=True, repeat_end=3) == {"repeat_start": True, "repeat_end": 3}
    assert bar(ending=(1, 2), ending_edge="start") == {
        "over": "1. 2.", "bracket": True, "bracket_start": True,
    }  # fmt: skip
    assert bar(ending=(1,), ending_edge="start+stop", words="Solo") == {
        "over": "1. Solo", "bracket": True, "bracket_start": True,
    }  # fmt: skip
    assert bar(ending=(1,), ending_edge="stop") == {"bracket": True}
    assert bar(segno=True) == {"sign": "segno"}
    assert bar(coda=True) == {"sign": "coda"}
    assert bar(to_coda=True, fine=True, jump=Jump.DA_CAPO_AL_FINE) == {
        "after": "To Coda Fine D.C. al Fine"
    }
    leads = sheet_chart._leads_elsewhere
    one = sheet_chart._ChartBar((("F", 1.0),))
    assert not leads([sheet_chart._Section("A", "", (one, replace(one, repeat_end=2)))])
    for more in ({"bracket": True}, {"after": "Fine"}, {"sign": "coda"}):
        assert leads([sheet_chart._Section("A", "", (one, replace(one, **more)))])


def section(bars: int, *cells: tuple[str, float]) -> Any:
    bar = sheet_chart._ChartBar(cells or (("F", 1.0),))
    return sheet_chart._Section("A", "", (bar,) * bars)


def test_the_largest_size_at_which_a_chart_fits():
    """A row is 1.6 ems with 0.42 white, a section adds 0.35; from 14 to 27 points."""
    inch = 72 / 25.4
    wide = 0.72 + 0.55  # an F and the least space after it
    assert sheet_chart._fitting([section(4)], 180.0, 700.0) == (4, 27.0)
    # By the height: eight rows of four and two sections.
    per_row, size = sheet_chart._fitting([section(17), section(12)], 180.0, 300.0)
    assert (per_row, size) == (4, pytest.approx(300 / (8 * 2.02 + 2 * 0.35)))
    # By the width, and then two in a row where four would be under 14 points.
    cells = [("F", 0.25)] * 6
    per_row, size = sheet_chart._fitting([section(4, *cells)], 180.0, 700.0)
    assert (per_row, size) == (4, pytest.approx(45 * inch / (6 * wide)))
    cells = [("F", 0.125)] * 8
    per_row, size = sheet_chart._fitting([section(4, *cells)], 180.0, 700.0)
    assert (per_row, size) == (2, pytest.approx(90 * inch / (8 * wide)))
    # Exactly 14 points are enough.
    exact = 4 * 14 * wide / inch
    assert sheet_chart._fitting([section(4)], exact + 1e-9, 700.0)[0] == 4
    assert sheet_chart._fitting([section(4)], exact - 1e-3, 700.0)[0] == 2
    # Where two in a row make too many rows, four stay.
    assert sheet_chart._fitting([section(40)], exact - 1e-3, 300.0)[0] == 4
    assert sheet_chart._fitting([section(9)], 180.0, 0.0) == (4, 0.0)


@pytest.mark.parametrize(
    ("room", "gap"), [(0.0, 0.42), (2 * 1.6 + 0.35 + 1.5, 0.75), (2 * 1.6 + 0.35 + 9, 1.1)]
)
def test_white_between_rows_of_a_chart(room, gap):
    assert sheet_chart._gap([section(5)], 4, room) == pytest.approx(gap)


def test_columns_go_by_time_where_every_chord_has_room():
    cells = (("F", 0.75), ("F", 0.25))
    need = 0.72 + 0.55
    assert sheet_chart._shares(cells, 4 * need) == [0.75, 0.25]
    assert sheet_chart._shares(cells, 4 * need - 0.01) == pytest.approx([need, need])
    grid = sheet_chart._Grid(4, 18.0, 254.0)
    assert grid.room_ems == pytest.approx(10.0)


def test_a_section_is_cut_into_rows():
    grid = sheet_chart._Grid(4, 18.0, 254.0)
    text = PageText()
    stroke = [{"share": 0.0, "sign": "↓"}]
    made = sheet_chart._section_data(section(6), grid, text, stroke)
    assert [len(row) for row in made["rows"]] == [4, 2]
    bars = [bar for row in made["rows"] for bar in row]
    assert [bar["opens"] for bar in bars] == [True] + [False] * 5
    assert [bar["closes"] for bar in bars] == [False] * 5 + [True]
    assert [bar["strokes"] for bar in bars] == [stroke] + [[]] * 5
    assert [made["breakable"] for made in (
        sheet_chart._section_data(section(n), grid, text, []) for n in (16, 17)
    )] == [False, True]  # fmt: skip
    assert not any(bar["repeat-end"] for bar in bars)


def test_a_chart_that_is_too_full_has_each_section_once(monkeypatch):
    """With the same name and other chords, it is said which time."""
    a, b = ("F", "0 2 3 3"), ("C7", "0 0 2 1")
    bars = [a, b, a, a, a, b, b, b]
    made = arrangement(bars, FOUR, sections=["A", "A", "B", "B", "A", "A", "B", "B"])
    found = sheet_chart._once_each(made, "concert")
    cells = [[bar.cells[0][0] for bar in one.bars] for one in found]
    assert [(one.name, one.times) for one in found] == [
        ("A", ""), ("B", "first time"), ("B", "second time"),
    ]  # fmt: skip
    assert cells == [["F", "C7"], ["F", "F"], ["C7", "C7"]]
    monkeypatch.setattr(sheet_chart, "_fitting", lambda sections, width, height: (4, 13.9))
    page = sheet_chart.chart_page(
        made, PageMaterials(), sheet_tune.PageAddress(), reader="concert", own=True
    )
    assert [(one["name"], one["times"]) for one in page["sections"]] == [
        ("A", ""), ("B", "first time"), ("B", "second time"),
    ]  # fmt: skip
    assert page["size-pt"] == 14.0
    monkeypatch.setattr(sheet_chart, "_fitting", lambda sections, width, height: (4, 14.0))
    page = sheet_chart.chart_page(
        made, PageMaterials(), sheet_tune.PageAddress(), reader="concert", own=True
    )
    assert len(page["sections"]) == 4
