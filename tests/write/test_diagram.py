"""Chord boxes read back by their geometry alone: lines, dots and numbers, as an eye would."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hand_made import BANJO, GUITAR, UKULELE, shape
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from accomp.neck import Shape
from accomp.write.diagram import boxes_svg, chord_box_svg

SVG = "{http://www.w3.org/2000/svg}"


def of(group, tag, kind):
    return [e for e in group.iter(f"{SVG}{tag}") if e.get("class") == kind]


def number(element, name):
    return float(element.get(name))


def read_box(group):
    """(frets, fingers, barre as (fret, first string index, last), title) of a drawn box."""
    strings = sorted(number(line, "x1") for line in of(group, "line", "string"))
    lines = sorted(number(line, "y1") for k in ("nut", "fret") for line in of(group, "line", k))
    numbers = of(group, "text", "first")
    assert len(of(group, "line", "nut")) == (0 if numbers else 1)
    first = int(numbers[0].text) if numbers else 1

    def string_at(x):
        near = min(strings, key=lambda place: abs(place - x))
        assert abs(near - x) < 0.01
        return strings.index(near)

    def fret_at(y):
        spaces = [i for i, (a, b) in enumerate(itertools.pairwise(lines)) if a < y < b]
        assert len(spaces) == 1
        return first + spaces[0]

    frets = {}
    for dot in of(group, "circle", "dot"):
        frets[string_at(number(dot, "cx"))] = fret_at(number(dot, "cy"))
    for ring in of(group, "circle", "open"):
        assert number(ring, "cy") < lines[0]
        frets[string_at(number(ring, "cx"))] = 0
    for cross in of(group, "path", "muted"):
        points = [float(n) for n in cross.get("d").replace("M", " ").replace("L", " ").split()]
        xs, ys = points[::2], points[1::2]
        assert max(ys) < lines[0]
        frets[string_at(sum(xs) / len(xs))] = None
    fingers = [0] * len(strings)
    for text in of(group, "text", "finger"):
        assert number(text, "y") > lines[-1]
        fingers[string_at(number(text, "x"))] = int(text.text)
    barres = [
        (fret_at(number(line, "y1")), string_at(number(line, "x1")), string_at(number(line, "x2")))
        for line in of(group, "line", "barre")
    ]
    titles = of(group, "text", "title")
    return (
        tuple(frets[i] for i in range(len(strings))),
        tuple(fingers),
        barres[0] if barres else None,
        titles[0].text if titles else "",
    )


SHAPES = [
    (shape(BANJO, "C", "0 0 2 3", "0 0 1 2"), None),
    (shape(BANJO, "C", "4 5 5 7", "1 2 2 4", barre=5), (5, 1, 2)),
    (shape(BANJO, "Bb", "5 7 8 8", "1 3 4 4", barre=8), (8, 2, 3)),
    (shape(BANJO, "F", "5 5 7 8", "1 1 3 4", barre=5), (5, 0, 1)),
    (shape(UKULELE, "C", "0 0 0 3", "0 0 0 3"), None),
    (shape(GUITAR, "F", "1 3 3 2 1 1", "1 3 4 2 1 1", barre=1), (1, 0, 5)),
    (shape(GUITAR, "C", "x 3 2 0 1 0", "0 3 2 0 1 0"), None),
    (shape(GUITAR, "C", "8 10 10 9 8 8", "1 3 4 2 1 1", barre=8), (8, 0, 5)),
    (shape(BANJO, "C", "0 5 10 3", "0 2 4 1"), None),
]


@pytest.mark.parametrize(("made", "barre"), SHAPES)
def test_a_box_reads_back_as_its_shape(made: Shape, barre):
    root = etree.fromstring(chord_box_svg(made, "B♭7"))
    assert read_box(root) == (made.frets, made.fingers, barre, "B♭7")


@given(
    st.lists(st.none() | st.integers(0, 20), min_size=4, max_size=6).filter(
        lambda frets: any(fret is not None for fret in frets)
    )
)
def test_any_frets_read_back(frets):
    made = replace(SHAPES[0][0], frets=tuple(frets), fingers=(0,) * len(frets))
    assert read_box(etree.fromstring(chord_box_svg(made)))[0] == tuple(frets)


def test_boxes_stand_side_by_side_without_touching():
    shapes = [made for made, _ in SHAPES]
    titles = [f"chord {n}" for n in range(len(shapes))]
    root = etree.fromstring(boxes_svg(list(zip(titles, shapes, strict=True)), per_row=4))
    groups = [g for g in root.iter(f"{SVG}g") if g.get("class") == "chord-box"]
    assert [read_box(group)[3] for group in groups] == titles
    assert [read_box(group)[0] for group in groups] == [made.frets for made in shapes]
    corners = []
    for group in groups:
        x, y = group.get("transform").removeprefix("translate(").split(")")[0].split()
        corners.append((float(x), float(y)))
    assert len({y for _, y in corners}) == 3
    width, height = (float(root.get(name)) for name in ("width", "height"))
    for (x, y), made in zip(corners, shapes, strict=True):
        right = x + max(
            number(e, name) for e in groups[0].iter(f"{SVG}line") for name in ("x1", "x2")
        )
        assert 0 <= x < right < width
        assert 0 <= y < height, made
    row = sorted(x for x, y in corners if y == corners[0][1])
    assert all(b - a > 50 for a, b in itertools.pairwise(row))


@pytest.mark.parametrize("title", ["<b>\"&'", "]]>", "\x00", "🎷", "שלום"])
def test_a_title_is_text(title):
    drawn = chord_box_svg(SHAPES[0][0], title)
    assert read_box(etree.fromstring(drawn))[3] == title.replace("\x00", "\ufffd")
