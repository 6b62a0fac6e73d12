"""Lines of music and the pages of a part, in figures."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hand_made import BANJO, shape

from accomp.harmony import Key, Pitch
from accomp.score.written import ChordMark, Event, Measure, NoteValue, WrittenNote
from accomp.time import Meter
from accomp.write import (
    engrave_lines,
    sheet_fit,
    sheet_part,
    sheet_signs,
)
from accomp.write.engrave import System

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
    space = sheet_fit.PageSpace(180.0, 100.0, 200.0)
    systems = [System(str(n), 180.0, 20.0) for n in range(4)]

    def gaps(*counts: int) -> list[float]:
        laid = sheet_fit._laid(systems, counts, space)
        assert [len(page.systems) for page in laid] == list(counts)
        assert [int(s.svg) for page in laid for s in page.systems] == list(range(4))
        return [page.gap_mm for page in laid]

    assert gaps(4) == [5.0]
    assert gaps(3, 1) == [9.0, 9.0]
    tall = replace(space, first_mm=84.0, other_mm=30.0)
    laid = sheet_fit._laid(systems, (4,), tall)
    assert laid[0].gap_mm == 2.0  # never less
    assert sheet_fit._laid(systems, (2, 2), tall)[1].gap_mm == 2.0
    assert [space.height_mm(page) for page in (0, 1, 2)] == [100.0, 200.0, 200.0]


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
