"""How pages are laid out, in figures: boxes, rows, lines, sizes, sections, indexes."""

from __future__ import annotations

import itertools
import json
import math
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from hand_made import BANJO, FOUR, GUITAR, arrangement, shape
from lxml import etree

from accomp.harmony import Key, Pitch, parse_chord
from accomp.rhythm import find_style
from accomp.score.notate import notate
from accomp.score.notate_layout import ScoreLayout
from accomp.score.written import Barline, ChordMark, Event, Jump, Measure, NoteValue, WrittenNote
from accomp.time import Meter
from accomp.write import (
    book,
    diagram,
    engrave_lines,
    page_text,
    pages,
    sheet_chart,
    sheet_fit,
    sheet_part,
    sheet_pattern,
    sheet_signs,
    sheet_tune,
)
from accomp.write.box import barre_strings, box_lines, box_window, boxes_lines
from accomp.write.engrave import System
from accomp.write.formats import Paper
from accomp.write.page_text import PageText
from accomp.write.pages import PageSet, Pictures, Press, Typesetting

SVG = "{http://www.w3.org/2000/svg}"


# Boxes


@pytest.mark.parametrize(
    ("frets", "window"),
    [
        ((0, 0, 0, 0), (1, 5)), ((None, 0, 2, 4), (1, 5)), ((0, 0, 2, 5), (2, 6)),
        ((5, 5, 5, 5), (5, 9)), ((1, 2, 3, 5), (1, 6)), ((0, None, 1, 6), (1, 7)),
        ((4, 4, 4, 4), (1, 5)), ((2, 3, 4, 6), (2, 7)), ((12, 14, 15, 15), (12, 16)),
    ],
)  # fmt: skip
def test_a_box_shows_four_frets_and_the_nut_where_all_fits_below_it(frets, window):
    assert box_window(frets) == range(*window)


@pytest.mark.parametrize(
    ("frets", "fingers", "barre", "strings"),
    [
        ("4 3 5 3", "2 1 3 1", 3, (1, 3)),
        ("4 3 5 3", "2 1 3 1", None, ()),
        ("3 3 3 3", "1 1 1 1", 3, (0, 1, 2, 3)),
        ("3 3 3 5", "0 2 2 4", 3, (1, 2)),  # a string without a finger is not under it
        ("3 3 3 5", "1 2 3 4", 3, ()),
        ("3 3 3 3", "2 2 1 1", 3, (2, 3)),  # of two the lower finger
        ("3 3 5 5", "1 1 3 3", 5, (2, 3)),
    ],
)
def test_the_strings_of_a_barre(frets, fingers, barre, strings):
    assert barre_strings(shape(BANJO, "C7", frets, fingers, barre)) == strings


def test_a_line_joins_what_one_finger_stops():
    def rows(frets: tuple[int | None, ...], fingers: tuple[int, ...]) -> list[str]:
        return [line[3:] for line in box_lines("", frets, fingers)[3:-1]]

    assert rows((3, 3, 3, 3), (1, 1, 1, 1))[2] == "1━1━1━1"
    assert rows((3, 5, 4, 3), (1, 3, 2, 1))[0] == "1━┿━┿━1"
    assert rows((3, 3, 5, 3), (0, 0, 3, 0))[0] == "● ● │ ●"
    assert rows((2, 2, 4, 4), (1, 1, 3, 3))[1] == "1━1 │ │"
    assert rows((2, 2, 4, 4), (1, 1, 3, 3))[3] == "│ │ 3━3"
    assert rows((None, 2, 2, 0), (0, 1, 2, 0))[1] == "│ 1 2 │"
    # A title wider than the box makes every line as wide.
    assert {len(line) for line in box_lines("x" * 20, (0, 0, 0, 0), (0, 0, 0, 0))} == {23}
    assert box_lines("C", (10, 10, 10, 10), (1, 1, 1, 1))[3].rstrip() == "10 1━1━1━1"


def test_as_many_boxes_stand_in_a_row_as_fit_exactly():
    box = ("A", (0, 2, 3, 3), (0, 1, 2, 3))  # ten signs wide, three between
    for count, width in ((1, 22), (2, 23), (2, 35), (3, 36)):
        first = boxes_lines([box] * 3, width)[0]
        assert first.count("A") == count
    lines = boxes_lines([box] * 3, 23)
    assert lines.count("") == 1 + 0
    assert lines[8] == ""
    assert boxes_lines([]) == []
    tall = ("T", (1, 2, 3, 6), (1, 2, 3, 4))
    both = boxes_lines([box, tall], 80)
    assert [len(line) for line in both[-2:]] == [23, 23]
    assert both[-1].startswith(" " * 16)
    assert both[7].startswith("   0 2 3 3")


def elements(svg: str, kind: str) -> list[dict[str, str]]:
    return [
        {k: v for k, v in e.attrib.items() if k != "class"} | ({"": e.text} if e.text else {})
        for e in etree.fromstring(svg).iter()
        if e.get("class") == kind
    ]


def test_a_box_from_the_nut_line_by_line():
    made = shape(GUITAR, "F", "x 3 3 2 1 1", "0 3 4 2 1 1", 1)
    svg = diagram.chord_box_svg(made, "Fmaj7")
    ink, line, serif = "#26211c", "#8d857b", "Libertinus Serif, serif"
    assert etree.fromstring(svg).attrib == {
        "viewBox": "0 0 85 88", "width": "85", "height": "88",
    }  # fmt: skip
    word = {"font-family": serif, "text-anchor": "middle", "fill": ink}
    assert elements(svg, "title") == [
        {"x": "42.5", "y": "12", "font-size": "13", "": "Fmaj7"} | word
    ]
    nut = {"x1": "15", "y1": "25", "x2": "70", "y2": "25", "stroke": ink}
    assert elements(svg, "nut") == [nut | {"stroke-width": "2", "stroke-linecap": "square"}]
    thin = {"stroke": line, "stroke-width": "0.6"}
    assert elements(svg, "fret") == [
        {"x1": "15", "y1": y, "x2": "70", "y2": y} | thin for y in ("38", "51", "64", "77")
    ]
    assert elements(svg, "string") == [
        {"x1": x, "y1": "25", "x2": x, "y2": "77", "stroke": line, "stroke-width": "0.8"}
        for x in ("15", "26", "37", "48", "59", "70")
    ]
    assert elements(svg, "first") == elements(svg, "open") == []
    assert elements(svg, "muted") == [
        {"d": "M12.7 17.7L17.3 22.3M12.7 22.3L17.3 17.7", "stroke": ink, "stroke-width": "0.9",
         "fill": "none"}
    ]  # fmt: skip
    dots = [("26", "57.5"), ("37", "57.5"), ("48", "44.5"), ("59", "31.5"), ("70", "31.5")]
    assert elements(svg, "dot") == [{"cx": x, "cy": y, "r": "3.9", "fill": ink} for x, y in dots]
    assert elements(svg, "barre") == [
        {"x1": "59", "y1": "31.5", "x2": "70", "y2": "31.5", "stroke": ink, "stroke-width": "5.07"}
    ]
    assert elements(svg, "finger") == [
        {"x": x, "y": "86", "font-size": "8", "": finger} | word
        for x, finger in zip(("26", "37", "48", "59", "70"), "34211", strict=True)
    ]


def test_a_box_up_the_neck_has_the_number_of_its_first_fret():
    made = shape(BANJO, "F", "0 12 13 12", "0 1 2 1", 12)
    svg = diagram.chord_box_svg(made)
    (number,) = elements(svg, "first")
    assert (number[""], number["x"], number["y"], number["font-size"]) == (
        "12", "4.88", "34.22", "8",
    )  # fmt: skip
    assert elements(svg, "nut") == elements(svg, "title") == []
    (ring,) = elements(svg, "open")
    assert ring == {
        "cx": "15", "cy": "20", "r": "2.3", "fill": "none", "stroke": "#26211c",
        "stroke-width": "0.8",
    }  # fmt: skip
    small = etree.tostring(diagram.box_group(made, "", 1.234, 5, 2.0, small=True)).decode()
    (number,) = elements(small, "first")
    assert (number["x"], number["y"], number["font-size"]) == ("2.32", "35.58", "12")
    assert elements(small, "finger") == []
    group = etree.fromstring(small)
    assert group.get("transform") == "translate(1.23 5) scale(2)"
    assert diagram.box_group(made, "", 0, -0.5).get("transform") == "translate(0 -0.5)"


@pytest.mark.parametrize(("length", "size"), [(1, "13"), (8, "13"), (9, "12.5"), (18, "6.25")])
def test_a_long_title_is_smaller(length, size):
    svg = diagram.chord_box_svg(shape(BANJO, "F", "0 2 3 3"), "x" * length)
    assert elements(svg, "title")[0]["font-size"] == size


@pytest.mark.parametrize(
    ("count", "per_row", "box", "places"),
    [
        (0, 8, "0 0 1 1", []),
        (1, 8, "0 0 63 88", ["0 0"]),
        (3, 2, "0 0 126 176", ["0 0", "63 0", "0 88"]),
        (2, 2, "0 0 126 88", ["0 0", "63 0"]),
        (2, 0, "0 0 63 176", ["0 0", "0 88"]),
    ],
)
def test_boxes_in_rows(count, per_row, box, places):
    svg = diagram.boxes_svg([("", shape(BANJO, "F", "0 2 3 3"))] * count, per_row)
    root = etree.fromstring(svg)
    assert root.get("viewBox") == box
    assert [g.get("transform") for g in root] == [f"translate({place})" for place in places]


def test_boxes_of_several_sizes_share_a_grid():
    wide = shape(GUITAR, "F", "1 3 3 2 1 1")
    high = shape(BANJO, "F", "1 2 3 6")
    root = etree.fromstring(diagram.boxes_svg([("", high), ("", wide)], 1))
    assert root.get("viewBox") == "0 0 85 228"
    assert [g.get("transform") for g in root] == ["translate(11 0)", "translate(0 114)"]


def test_rows_of_boxes_with_headings():
    one = ("F", shape(BANJO, "F", "0 2 3 3"))
    svg = diagram.box_rows_svg([("Long heading " * 9, [one] * 3), ("B", []), ("", [one])], 2)
    root = etree.fromstring(svg)
    # A heading 24 high, rows of 88 and 14 of white; the first heading is the widest.
    headings = [(e.get("x"), e.get("y"), e.get("font-size")) for e in root.findall(f"{SVG}text")]
    assert headings == [("12.00", "25.00", "13.00"), ("12.00", "253.00", "13.00")]
    places = [g.get("transform") for g in root if g.get("class") == "chord-box"]
    assert places == [
        "translate(12 36)", "translate(75 36)", "translate(12 138)", "translate(12 278)",
    ]  # fmt: skip
    assert root.get("viewBox") == f"0 0 {12 + 0.6 * 13 * 117 + 12:.2f} 380.00"
    narrow = etree.fromstring(diagram.box_rows_svg([("A", [one])]))
    assert (narrow.get("width"), narrow.get("height")) == ("87.00", "138.00")


# Lines of music


def measure(**more: Any) -> Measure:
    note = WrittenNote(Pitch.parse("C4"), None, 1, 3)
    event = Event(Fraction(0), NoteValue(Fraction(1, 4)), (note,))
    return replace(
        Measure(1, Fraction(1), Meter.parse("4/4"), Key.parse("F"), (event,) * 4), **more
    )


def test_the_room_that_a_measure_asks_for():
    one = measure()
    note, event = one.events[0].notes[0], one.events[0]
    mark = ChordMark(Fraction(0), None, None)
    of = engrave_lines.measure_mm

    def with_events(*events: Event) -> float:
        return of(replace(one, events=events))

    assert of(one) == pytest.approx(5 + 4 * 5.8)
    assert with_events(event) == pytest.approx(10.8)
    for length in ("1", "1/2", "1/8", "1/16"):
        long = replace(event, value=NoteValue(Fraction(length)))
        wide = 5.8 * (float(Fraction(length)) * 4) ** 0.45
        assert with_events(long) == pytest.approx(5 + wide)
    short = replace(event, value=NoteValue(Fraction(1, 16)))  # 3.1 mm
    high, nine = (replace(short, notes=(note, replace(note, fret=n))) for n in (10, 9))
    assert with_events(high) == pytest.approx(5 + 4.2)
    assert with_events(nine) == pytest.approx(5 + 5.8 * 0.25**0.45)
    assert with_events(replace(short, notes=(replace(note, fret=None),))) < 9
    sharp = replace(event, notes=(note, replace(note, accidental=0)))
    assert with_events(sharp, event, sharp) == pytest.approx(5 + 3 * 5.8 + 2 * 1.6)
    assert of(replace(one, rests=4)) == 17.0
    assert with_events(replace(event, whole_measure=True)) == 17.0
    assert of(replace(one, chords=(mark, mark))) == 5 + 24
    assert of(replace(one, chords=(mark,))) == pytest.approx(5 + 4 * 5.8)


def flags(text: str) -> list[Measure]:
    """Measures by a sign each: a section begins at a capital, "p" is a pickup."""
    return [
        measure(rehearsal="A" if c.isupper() else "", number=0 if c in "pP" else 1) for c in text
    ]


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("aaaa", [(0, 4)]),
        ("Aaaa", [(0, 4)]),
        ("AaaaBaaa", [(0, 4), (4, 8)]),
        ("aaBaaa", [(0, 2), (2, 6)]),
        ("pAaaaBaaa", [(0, 5), (5, 9)]),  # a pickup shares the line of the first section
        ("PaAaa", [(0, 2), (2, 5)]),
        ("pA", [(0, 2)]),
        ("AaaaB", [(0, 5)]),  # a single last bar goes on from what is before it
        ("AB", [(0, 2)]),
        ("A", [(0, 1)]),
        ("ABaa", [(0, 1), (1, 4)]),
        ("AaaaBC", [(0, 4), (4, 6)]),
    ],
)
def test_sections_begin_lines(text, rows):
    assert engrave_lines._sections(flags(text)) == rows


@pytest.mark.parametrize(
    ("row", "per_line", "width", "rows"),
    [
        ((0, 4), 4, 25.0, [(0, 4)]),
        ((0, 4), 4, 25.1, [(0, 2), (2, 4)]),
        ((0, 4), 4, 50.1, [(0, 1), (1, 2), (2, 3), (3, 4)]),
        ((0, 8), 8, 13.125, [(0, 8)]),  # a long line may ask for 5 % more than its room
        ((0, 8), 8, 13.2, [(0, 4), (4, 8)]),
        ((0, 8), 8, 26.0, [(0, 2), (2, 4), (4, 6), (6, 8)]),
        ((0, 5), 4, 25.0, [(0, 3), (3, 5)]),  # a pickup stays on top of the first half
        ((0, 3), 4, 40.0, [(0, 2), (2, 3)]),
        ((0, 2), 4, 60.0, [(0, 1), (1, 2)]),
        ((0, 1), 4, 200.0, [(0, 1)]),
        ((0, 7), 8, 16.0, [(0, 4), (4, 7)]),
        ((0, 2), 1, 200.0, [(0, 2)]),
        ((3, 5), 8, 60.0, [(3, 4), (4, 5)]),
    ],
)
def test_a_line_that_has_no_room_is_halved(row, per_line, width, rows):
    assert engrave_lines._halved(row, [width] * 9, 100.0, per_line) == rows


@pytest.mark.parametrize(
    ("lines", "widths", "rows"),
    [
        # Short is less than 100 / 2.5; together they may have 108.
        ([(0, 2), (2, 4)], [40, 28.5, 20, 19.5], [(0, 4)]),
        ([(0, 2), (2, 4)], [40, 28.75, 20, 19.5], [(0, 2), (2, 4)]),
        ([(0, 2), (2, 4)], [40, 28, 20, 20], [(0, 2), (2, 4)]),
        ([(0, 2), (2, 4)], [20, 19.5, 30, 30], [(0, 4)]),
        ([(0, 2), (2, 4)], [20, 20, 20, 20], [(0, 2), (2, 4)]),
        ([(0, 1), (1, 2), (2, 3)], [30, 30, 30], [(0, 3)]),
        ([(0, 1), (1, 2), (2, 3)], [40, 39, 40], [(0, 2), (2, 3)]),
        ([], [], []),
    ],
)
def test_a_short_line_joins_the_one_before_where_both_fit(lines, widths, rows):
    assert engrave_lines._without_orphans(lines, widths, 100.0) == rows


@pytest.mark.parametrize(
    ("text", "per_line", "starts"),
    [
        ("a" * 8, 4, (0, 4)), ("a" * 8, 8, (0,)), ("a" * 16, 8, (0, 8)),
        ("a" * 12, 8, (0, 8)), ("a" * 11, 8, (0, 4)), ("a" * 9, 8, (0, 4)),
        ("p" + "a" * 8, 4, (0, 5)), ("p" + "a" * 8, 8, (0,)), ("p" + "a" * 10, 8, (0, 5)),
        ("A" + "a" * 5 + "B" + "a" * 5, 4, (0, 4, 6, 10)),
    ],
)  # fmt: skip
def test_where_lines_begin(text, per_line, starts, monkeypatch):
    """Measures of 12 mm, so that eight have room; two of them make a short line."""
    monkeypatch.setattr(engrave_lines, "measure_mm", lambda one: 12.0)
    monkeypatch.setattr(engrave_lines, "_without_orphans", lambda rows, widths, room: rows)
    assert engrave_lines._starts(flags(text), 140.0, per_line) == starts


def test_ways_to_break_come_in_the_order_of_what_reads_best(monkeypatch):
    """Lines of four first; easy sizes before small ones; the fewest lines; then the largest."""
    monkeypatch.setattr(
        engrave_lines, "_starts", lambda measures, width, n: (0,) if width * n > 900 else (0, n)
    )
    found = engrave_lines.ways_to_break(flags("aaaa"), 180.0)
    four, one = (0, 4), (0,)
    assert [(way.size, way.starts) for way in found] == [
        (0.92, four), (0.86, four), (0.8, four), (0.76, one), (0.72, one),
        (0.92, one), (0.86, one), (0.8, one),
    ]  # fmt: skip


# Pages of a part


def test_white_is_shared_out_between_its_least_and_its_most():
    room = sheet_fit.Room(180.0, 100.0, 200.0)
    systems = [System(str(n), 180.0, 20.0) for n in range(4)]

    def gaps(*counts: int) -> list[float]:
        laid = sheet_fit._laid(systems, counts, room)
        assert [len(page.systems) for page in laid] == list(counts)
        assert [int(s.svg) for page in laid for s in page.systems] == list(range(4))
        return [page.gap_mm for page in laid]

    assert gaps(4) == [5.0]
    assert gaps(3, 1) == [9.0, 9.0]
    tall = replace(room, first_mm=84.0, other_mm=30.0)
    laid = sheet_fit._laid(systems, (4,), tall)
    assert laid[0].gap_mm == 2.0  # never less
    assert sheet_fit._laid(systems, (2, 2), tall)[1].gap_mm == 2.0
    assert [room.height_mm(page) for page in (0, 1, 2)] == [100.0, 200.0, 200.0]


def boxes_of(count: int, scale: float = 1.0) -> list[dict[str, Any]]:
    return [{"picture": n, "scale": scale, "high": 1.4} for n in range(count)]


@pytest.mark.parametrize(
    ("count", "width", "scale", "size", "rows"),
    [
        (0, 180.0, 1.0, 15.5, []),
        (1, 180.0, 1.0, 15.5, [1]),
        (10, 180.0, 1.0, 15.5, [10]),
        (11, 180.0, 1.0, 15.0, [11]),  # 181.5 / 11 - 1.5
        (12, 180.0, 1.0, 13.625, [12]),
        (13, 187.0, 1.0, 13.0, [13]),  # 188.5 / 14.5 is just 13
        (13, 186.9, 1.0, 13.0, [7, 6]),
        (25, 180.0, 1.0, 13.0, [9, 9, 7]),
        (3, 10.0, 1.0, 10.0, [1, 1, 1]),
        (2, 60.0, 2.0, 14.625, [2]),
        (3, 60.0, 2.0, 13.0, [2, 1]),
    ],
)
def test_rows_of_boxes_on_a_part(count, width, scale, size, rows):
    found, made = sheet_part._box_rows(boxes_of(count, scale), width)
    assert (found, [len(row) for row in made]) == (pytest.approx(size), rows)
    assert [box["picture"] for row in made for box in row] == list(range(count))


@pytest.mark.parametrize(
    ("pattern_mm", "count", "beside", "high"),
    [
        (None, 0, False, 0.0),
        (80.0, 0, False, 18.5),
        (None, 3, False, 15.5 * 1.4 + 3),
        (80.0, 3, True, 15.5 * 1.4 + 3),
        (80.0, 8, False, 15.5 * 1.4 + 3 + 18.5),  # too many to stand beside it in one row
        (None, 25, False, 3 * 13 * 1.4 + 4 + 3),
        (40.0, 25, True, 3 * 13 * 1.4 + 4 + 3),
        (100.0, 25, False, 3 * 13 * 1.4 + 4 + 3 + 18.5),
        (129.0, 2, True, 15.5 * 1.4 + 3),
        (128.5, 3, True, 13.5 * 1.4 + 3),
        (130.5, 3, False, 15.5 * 1.4 + 3 + 18.5),
    ],
)
def test_strokes_and_boxes_stand_side_by_side_where_that_takes_no_more_rows(
    pattern_mm, count, beside, high
):
    pattern = None if pattern_mm is None else {"width-mm": pattern_mm}
    strip, found = sheet_part.strip_data(pattern, boxes_of(count), 180.0)
    assert (strip["beside"], strip["pattern"], strip["gutter-mm"]) == (beside, pattern, 8.0)
    assert found == pytest.approx(high)


def test_signs_of_boxes_strokes_and_patterns_each_alone():
    def of(frets: str, fingers: str = "", barre: int | None = None) -> list[str]:
        return sheet_signs.box_signs([shape(BANJO, "F", frets, fingers, barre)])

    finger, barre = "● finger, its number below", "━ one finger over several strings"
    beside = "number beside: fret"
    assert sheet_signs.box_signs([]) == []
    assert of("0 0 0 0") == ["○ open"]
    assert of("x x x x") == ["× not sounded"]
    assert of("1 2 3 4") == [finger]
    assert of("1 1 3 4", "1 1 3 4", 1) == [finger, barre]
    assert of("5 6 7 8") == [finger, beside]
    assert of("0 x 7 8") == [finger, "○ open", "× not sounded", beside]
    every = [shape(BANJO, "F", "1 2 3 4"), shape(BANJO, "F", "5 6 7 x")]
    assert sheet_signs.box_signs(every) == [finger, "× not sounded", beside]
    assert sheet_signs.stroke_signs(["×", "↑", "↓"]) == ["strokes: ↓ down", "↑ up", "× dead"]
    assert sheet_signs.stroke_signs([]) == []

    def strokes(*rows: tuple[str, str, bool]) -> list[str]:
        named = [dict(zip(("sign", "force", "choked"), row, strict=True)) for row in rows]
        return sheet_signs.pattern_signs({"strokes": named})

    assert sheet_signs.pattern_signs(None) == []
    assert strokes(("↓", "plain", False)) == ["strokes: ↓ down"]
    assert strokes(("↓", "light", False))[1:] == ["small: light"]
    assert strokes(("↓", "accent", False))[1:] == ["> accented"]
    assert strokes(("↓", "plain", True), ("↑", "accent", False))[1:] == [
        "↑ up", "> accented", "• choked",
    ]  # fmt: skip


# The head


@pytest.mark.parametrize(
    ("text", "most", "short"),
    [
        ("abcdef", 6, "abcdef"),
        ("abcdefg", 6, "abcde…"),
        ("abcd efg", 7, "abcd e…"),
        ("abcde fgh", 8, "abcde…"),
        ("abc defghij", 5, "abc …"),
        ("", 5, ""),
    ],
)
def test_a_text_is_cut_at_a_word_where_that_is_near(text, most, short):
    assert sheet_tune.shortened(text, most) == short


@pytest.mark.parametrize(
    ("length", "size"), [(0, 25.0), (44, 25.0), (50, 22.0), (84, 1100 / 84), (85, 13.0)]
)
def test_the_size_of_a_title(length, size):
    assert sheet_tune._title_pt("x" * length) == pytest.approx(size)


@pytest.mark.parametrize(
    ("title", "composer", "lines"),
    [("", "", 1), ("x" * 20, "", 1), ("x" * 60, "", 2), ("x" * 60, "x" * 30, 3), ("x" * 99, "", 2),
     ("x" * 99, "x" * 95, 9)],
)  # fmt: skip
def test_how_high_a_title_is(title, composer, lines):
    """8.3 mm for what is under it; a line 0.66 ems, the white between two 0.6."""
    made = replace(arrangement([("F", "0 2 3 3")]), title=title, composer=composer)
    em_mm = sheet_tune._title_pt(title) * 25.4 / 72
    beside = 0.54 * len(composer) * 10 * 25.4 / 72 + 8
    room = max(30.0, 180.0 - beside)
    assert (math.ceil(0.54 * len(title) * em_mm * 1.1 / room) or 1) == lines
    expected = 8.3 + em_mm * (0.66 * lines + 0.6 * (lines - 1))
    assert sheet_tune.title_mm(made, 180.0) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("meter", "tempo", "data"),
    [
        ("4/4", 168.0, ("quarter", False, "168")), ("2/2", 84.5, ("half", False, "84.5")),
        ("6/8", 100.0, ("quarter", True, "100")), ("6/4", 60.0, ("half", True, "60")),
        ("3/8", 60.0, ("quarter", True, "60")),
    ],
)  # fmt: skip
def test_the_metronome_mark_on_a_page(meter, tempo, data):
    strokes = [("0", str(Meter.parse(meter).bar), "down", "plain", "ring", "all")]
    made = arrangement([("F", "0 2 3 3")], strokes, meter=meter, tempo=tempo)
    found = sheet_tune.tempo_data(made)
    assert tuple(found[key] for key in ("value", "dotted", "number")) == data


def test_boxes_are_measured_by_one_of_four_strings():
    pictures = Pictures()
    rows = [
        (parse_chord("Bb"), shape(BANJO, "Bb", "5 7 8 8")),
        ("said", shape(GUITAR, "F", "1 3 3 2 1 1")),
    ]
    one, other = sheet_tune.box_data(rows, pictures)
    assert (one["scale"], one["high"]) == (1.0, 88 / 63)
    assert (other["scale"], other["high"]) == (85 / 63, 88 / 63)
    assert ">B♭<" in pictures.files[one["picture"]]
    assert ">said<" in pictures.files[other["picture"]]
    assert pictures.add("<svg/>") == pictures.add("<svg/>")
    assert len(pictures.files) == 3
    assert all(len(name) == 28 for name in pictures.files)


# Text


def test_notices_of_lost_signs_say_each_once():
    text = PageText()
    assert text(" a\u2066\u06e1 🎷🎺\x07 b ", "The title") == "a ��� b"
    assert text("🎷", "The section") == "�"
    assert text.notices == (
        "The title has signs that the page fonts lack (🎷, 🎺, U+0007): "
        "a replacement mark is printed for each.",
        "The section has signs that the page fonts lack (🎷): "
        "a replacement mark is printed for each.",
    )


@pytest.mark.parametrize(
    ("sentence", "printed"),
    [
        ("Bb, Eb7 and F#m7b5: yes", "B♭, E♭7 and F♯m7♭5: yes"),
        ("aBb /Bb", "aBb /Bb"),
        ("Hb and Ab.", "Hb and A♭."),
        ("C and Am7", "C and Am7"),
        ("Cb5zz#", "Cb5zz#"),
        ("A club", "A club"),
    ],
)
def test_chords_in_sentences_are_printed(sentence, printed):
    assert page_text.sentence_text(sentence) == printed


@pytest.mark.parametrize(
    ("text", "ems"),
    [("", 0), ("m", 0.82), ("M", 0.85), ("Δ", 0.72), ("♭♯", 0.95), ("/()", 1.12), ("A", 0.72),
     ("7", 0.5), ("a", 0.54), ("B♭m7", 0.72 + 0.45 + 0.82 + 0.5)],
)  # fmt: skip
def test_widths_of_signs(text, ems):
    assert page_text.ems(text) == pytest.approx(ems)


def test_choices_of_strings_in_words():
    found = [page_text.strings_text(one) for one in ("all", "low2", "high13", "low", "2", "low2x")]
    assert found == ["", "low 2", "high 13", "low", "2", "low2x"]


def test_the_table_of_signs_is_of_single_ones_and_ranges(monkeypatch):
    table = {"signs": "20-22 41 10ff00-10ff01"}
    monkeypatch.setattr(page_text, "package_data", lambda name: table)
    found = page_text.printable_signs.__wrapped__()
    assert found == {0x20, 0x21, 0x22, 0x41, 0x10FF00, 0x10FF01}


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
        made, Press(), sheet_tune.PageAddress(), reader="concert", own=True
    )
    assert [(one["name"], one["times"]) for one in page["sections"]] == [
        ("A", ""), ("B", "first time"), ("B", "second time"),
    ]  # fmt: skip
    assert page["size-pt"] == 14.0
    monkeypatch.setattr(sheet_chart, "_fitting", lambda sections, width, height: (4, 14.0))
    page = sheet_chart.chart_page(
        made, Press(), sheet_tune.PageAddress(), reader="concert", own=True
    )
    assert len(page["sections"]) == 4


# The pattern of a style


def test_a_pattern_s_columns_and_counts():
    found = sheet_pattern.pattern_data(find_style("two-beat"), 100.0)
    assert found is not None
    assert found["step-mm"] == min(10.0, 86.0 / found["columns"])
    assert found["width-mm"] == found["step-mm"] * found["columns"] + 12.0
    assert [one["at"] for one in found["counts"]] == sorted(one["at"] for one in found["counts"])
    narrow = sheet_pattern.pattern_data(find_style("two-beat"), 40.0)
    assert narrow is not None
    assert narrow["step-mm"] == pytest.approx(26.0 / found["columns"])


# The typesetter's table


def test_what_the_typesetter_is_given(tmp_path: Path):
    table = Typesetting(tmp_path)
    made = PageSet("T♭", [{"kind": "x"}], Paper.LETTER, book=True)
    assert table.laid_out(made, {"a.svg": "♭"}) == tmp_path / "pages.typ"
    assert json.loads((tmp_path / "data.json").read_text("utf-8")) == {
        "title": "T♭", "paper": "us-letter", "book": True, "inset": False,
        "pages": [{"kind": "x"}],
    }  # fmt: skip
    assert (tmp_path / "a.svg").read_text("utf-8") == "♭"
    table.laid_out(PageSet("", [], inset=True), {})
    data = json.loads((tmp_path / "data.json").read_text("utf-8"))
    assert (data["paper"], data["book"], data["inset"]) == ("a4", None, True)
    assert (Press().width_mm, Press().height_mm) == (180.0, 262.0)
    assert Press(Paper.LETTER).width_mm == pytest.approx(185.9)


def test_pieces_are_taken_in_by_the_pages_on_which_they_stand(tmp_path: Path, monkeypatch):
    (tmp_path / "a.svg").write_text("x", encoding="utf-8")
    monkeypatch.setattr(pages, "_pdf", lambda press: b"%PDF")
    monkeypatch.setattr(pages, "_places", lambda press: ([1, 2, 5], 6))
    monkeypatch.setattr(Typesetting, "_set", lambda self, source, name, ask: ask(None))
    rows = [{"tune": n, "name": f"n{n}", "first": n == 0, "more": 1} for n in range(3)]
    found = Typesetting(tmp_path).piece(PageSet("", rows), {"a.svg": "x"}, "t1.pdf")
    assert [(one["from"], one["to"], one["name"], one["first"], one["tune"]) for one in found] == [
        (1, 1, "n0", True, 0), (2, 4, "n1", False, 1), (5, 6, "n2", False, 2),
    ]  # fmt: skip
    assert {one["kind"] for one in found} == {"piece"}
    assert all("more" not in one for one in found)
    assert (tmp_path / "t1.pdf").read_bytes() == b"%PDF"
    assert not (tmp_path / "a.svg").exists()


@pytest.mark.parametrize(
    ("stderr", "why"),
    [("one\nlast word\n", "last word"), ("", "it ended without a word; out of memory?")],
)
def test_a_book_that_cannot_be_set_says_why(stderr, why, tmp_path: Path, monkeypatch):
    from accomp.errors import OutputError

    done = SimpleNamespace(returncode=1, stderr=stderr)
    monkeypatch.setattr(pages.subprocess, "run", lambda *_, **__: done)
    with pytest.raises(OutputError) as caught:
        Typesetting(tmp_path).print_apart(PageSet("", []), tmp_path / "book.pdf")
    assert str(caught.value) == f"book.pdf: the book could not be set ({why})."


# Books


def entry(title: str, key: str, **more: Any) -> list[dict[str, Any]]:
    tune = {
        "title": title,
        "short": title[:9],
        "entry": f"{title}, {key}",
        "key": key,
        "label": None,
    }
    return [{"kind": "piece", "tune": tune | more}, {"kind": "piece", "tune": tune}]


def test_a_book_has_its_pages_in_order_and_two_indexes():
    entries = [
        entry("The Old Gate", "F major"), entry("a lamp", "B♭ major"), entry("Zebra", "C major"),
        entry("the", "C major"), entry("12 Bars", "C major"), entry("Old Gate", "C major"),
        entry("An Ox", "F major"), entry("Zebra", "A major"),
    ]  # fmt: skip
    made = book.book_pages("My Book", "N.", entries, PageText())
    cover, contents, *middle, by_title, by_key = made
    assert cover == {
        "kind": "cover", "title": "My Book", "title-size": 44.0, "player": "N.",
        "counted": "7 tunes",
    }  # fmt: skip
    assert [row["label"] for row in contents["entries"]] == [f"t{n}" for n in range(1, 9)]
    assert contents["entries"][0]["text"] == "The Old Gate, F major"
    assert [page["tune"]["label"] for page in middle] == list(
        itertools.chain.from_iterable((f"t{n}", None) for n in range(1, 9))
    )
    assert (by_title["first"], by_key["first"]) == (True, False)
    assert [(g["head"], [e["label"] for e in g["entries"]]) for g in by_title["groups"]] == [
        ("#", ["t5"]), ("L", ["t2"]), ("O", ["t6", "t1", "t7"]), ("T", ["t4"]), ("Z", ["t8", "t3"]),
    ]  # fmt: skip
    assert [(g["head"], [e["text"] for e in g["entries"]]) for g in by_key["groups"]] == [
        ("A major", ["Zebra"]), ("B♭ major", ["a lamp"]),
        ("C major", ["12 Bars", "Old Gate", "the", "Zebra"]), ("F major", ["The Old G", "An Ox"]),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("title", "shown", "size"),
    [("", "Band book", 44.0), ("x" * 34, "x" * 34, 44.0), ("x" * 40, "x" * 40, 37.5),
     ("x" * 84, "x" * 84, 18.0)],
)  # fmt: skip
def test_the_cover_of_a_book(title, shown, size):
    cover = book.book_pages(title, "N.", [entry("A", "C major")], PageText())[0]
    assert (cover["title"], cover["title-size"], cover["counted"]) == (shown, size, "1 tune")
    assert book.book_pages(title, "N.", [], PageText())[0]["counted"] == "0 tunes"


def test_titles_are_sorted_without_their_article():
    found = [book._sorting(one) for one in ("The A", "THE", "the ", "An Ox", "A", "A b", "Theme")]
    assert found == ["a", "the", "the ", "ox", "a", "b", "theme"]


def test_a_page_is_turned_where_it_costs_least_at_the_limit():
    """Two systems that just fill a page are one page."""
    room = sheet_fit.Room(180.0, 40.0, 60.0)
    assert sheet_fit.paged([20.0, 20.0], room, {}) == (2,)
    assert sheet_fit.paged([20.0, 20.5], room, {}) == (1, 1)
    assert sheet_fit.paged([50.0, 20.0], room, {}) == (1, 1)
    # Of three on two pages: the first has 20 mm left or none, the second 40 or 20 of 60.
    assert sheet_fit.paged([20.0, 20.0, 20.0], room, {1: 0.0, 2: 0.0}) == (1, 2)
    assert sheet_fit.paged([20.0, 20.0, 20.0], room, {1: 0.4}) == (2, 1)
    layout = ScoreLayout("both", bass=False)
    bars = notate(arrangement([("F", "0 2 3 3")] * 3, FOUR), replace(layout, fold=False))
    measures = bars.parts[0].measures
    assert sheet_fit._turns(measures, (0, 1, 2)) == {1: 0.4, 2: 0.4}
    double = replace(measures[0], barline=Barline.DOUBLE)
    assert sheet_fit._turns((double, *measures[1:]), (0, 1)) == {1: 0.0}
