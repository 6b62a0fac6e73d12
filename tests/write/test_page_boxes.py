"""Chord boxes in figures: windows, barres, every line of a picture, rows with headings."""

from __future__ import annotations

import pytest
from hand_made import BANJO, GUITAR, shape
from lxml import etree

from accomp.write import (
    diagram,
)
from accomp.write.box import barre_strings, box_lines, box_window, boxes_lines

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
