"""Chord boxes as SVG: one, several side by side, rows of them with a heading each.

Conventions: strings stand upright, the highest-numbered on the left; frets run across, the nut on
top. A ring over a string says that it is open, a cross that it is not sounded. Finger numbers stand
in a row under the box, the number of the first fret left of its space when the nut is not shown.
Lengths are in SVG user units, one box about 60 wide. Headings and titles are text, never markup.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from lxml import etree

from accomp.files.text import xml_text
from accomp.neck import Shape
from accomp.write.box import barre_strings, box_frets, first_fret

STRING_GAP, FRET_GAP = 11.0, 13.0
DOT_RADIUS, RING_RADIUS = 3.9, 2.3
TITLE_SIZE, SMALL_SIZE = 13.0, 8.0
TITLE_HEIGHT, MARKS_HEIGHT, FINGERS_HEIGHT, SIDE = 17.0, 8.0, 11.0, 15.0
INK, LINE = "#26211c", "#8d857b"
FONT = "Libertinus Serif, serif"
_SVG = "http://www.w3.org/2000/svg"
# The classes of a box's elements, by which a page styles them.
LineClass = Literal["nut", "fret", "string", "barre"]
DotClass = Literal["open", "dot"]
TextClass = Literal["title", "first", "finger"]


@dataclass(frozen=True, slots=True)
class BoxSize:
    """Width and height of a box with title, marks and fingers, in SVG user units."""

    width: float
    height: float


def box_size(shape: Shape) -> BoxSize:
    """The room a box takes."""
    return BoxSize(
        2 * SIDE + STRING_GAP * (len(shape.frets) - 1),
        TITLE_HEIGHT + MARKS_HEIGHT + FRET_GAP * box_frets(shape) + FINGERS_HEIGHT,
    )


def chord_box_svg(shape: Shape, title: str = "") -> str:
    """One box as an SVG document, `title` (text, never markup) over it."""
    return boxes_svg([(title, shape)], per_row=1)


def boxes_svg(boxes: Sequence[tuple[str, Shape]], per_row: int = 8) -> str:
    """Boxes side by side, `per_row` in a row, as one SVG document."""
    sizes = [box_size(shape) for _, shape in boxes]
    width = max((size.width for size in sizes), default=1.0)
    height = max((size.height for size in sizes), default=1.0)
    columns = max(1, min(per_row, len(boxes)))
    rows = max(1, -(-len(boxes) // columns))
    root = etree.Element(f"{{{_SVG}}}svg", nsmap={None: _SVG})
    root.set("viewBox", f"0 0 {_number(columns * width)} {_number(rows * height)}")
    root.set("width", _number(columns * width))
    root.set("height", _number(rows * height))
    for index, (title, shape) in enumerate(boxes):
        x, y = index % columns * width, index // columns * height
        root.append(box_group(shape, title, x + (width - sizes[index].width) / 2, y))
    return str(etree.tostring(root, encoding="unicode"))


def box_group(
    shape: Shape, title: str, x: float, y: float, scale: float = 1.0, *, small: bool = False
) -> etree._Element:
    """A box as a `g` element with its upper left corner at (x, y).

    A `small` box, to be read over music, has no fingers and a larger number of its first fret.
    """
    group = copy.deepcopy(_drawn(shape, title, small=small))
    moved = f"translate({_number(x)} {_number(y)})"
    group.set("transform", moved if scale == 1 else f"{moved} scale({_number(scale)})")
    return group


@lru_cache(maxsize=512)
def _drawn(shape: Shape, title: str, *, small: bool) -> etree._Element:
    """A box at the origin."""
    group = etree.Element(f"{{{_SVG}}}g", {"class": "chord-box"}, nsmap={None: _SVG})
    strings, frets, first = len(shape.frets), box_frets(shape), first_fret(shape)
    left, top = SIDE, TITLE_HEIGHT + MARKS_HEIGHT
    right, bottom = left + STRING_GAP * (strings - 1), top + FRET_GAP * frets
    if title:
        room = right - left + 2 * SIDE
        size = min(TITLE_SIZE, room / (0.56 * len(title)))
        _text(group, "title", (left + right) / 2, TITLE_HEIGHT - 5, size, xml_text(title))
    for across in range(frets + 1):
        nut = across == 0 and first == 1
        y_fret = top + FRET_GAP * across
        _line(group, "nut" if nut else "fret", (left, y_fret), (right, y_fret))
    for string in range(strings):
        x_string = left + STRING_GAP * string
        _line(group, "string", (x_string, top), (x_string, bottom))
    if first > 1:
        size = SMALL_SIZE * 1.5 if small else SMALL_SIZE
        y_space = top + FRET_GAP / 2 + size * 0.34
        _text(group, "first", left - 5 - size * 0.32 * len(str(first)), y_space, size, str(first))
    _barre(group, shape, left, top, first)
    for i, fret in enumerate(shape.frets):
        x_string = left + STRING_GAP * i
        if fret is None:
            _cross(group, x_string, top - 5.0)
        elif fret == 0:
            _circle(group, "open", x_string, top - 5.0, RING_RADIUS)
        else:
            y_dot = top + FRET_GAP * (fret - first + 0.5)
            _circle(group, "dot", x_string, y_dot, DOT_RADIUS)
        if shape.fingers[i] and not small:
            _text(group, "finger", x_string, bottom + 9.0, SMALL_SIZE, str(shape.fingers[i]))
    return group


def _barre(group: etree._Element, shape: Shape, left: float, top: float, first: int) -> None:
    barred = barre_strings(shape)
    if not barred or shape.barre is None:
        return
    y = top + FRET_GAP * (shape.barre - first + 0.5)
    start, end = left + STRING_GAP * barred[0], left + STRING_GAP * barred[-1]
    line = _line(group, "barre", (start, y), (end, y))
    line.set("stroke", INK)
    line.set("stroke-width", _number(DOT_RADIUS * 1.3))


def _line(
    group: etree._Element, kind: LineClass, start: tuple[float, float], end: tuple[float, float]
) -> etree._Element:
    line = etree.SubElement(group, f"{{{_SVG}}}line", {"class": kind})
    for name, value in zip(("x1", "y1", "x2", "y2"), (*start, *end), strict=True):
        line.set(name, _number(value))
    line.set("stroke", INK if kind == "nut" else LINE)
    line.set("stroke-width", {"nut": "2", "fret": "0.6", "string": "0.8"}.get(kind, "1"))
    if kind == "nut":
        line.set("stroke-linecap", "square")
    return line


def _circle(group: etree._Element, kind: DotClass, x: float, y: float, radius: float) -> None:
    circle = etree.SubElement(group, f"{{{_SVG}}}circle", {"class": kind})
    for name, value in (("cx", x), ("cy", y), ("r", radius)):
        circle.set(name, _number(value))
    circle.set("fill", "none" if kind == "open" else INK)
    if kind == "open":
        circle.set("stroke", INK)
        circle.set("stroke-width", "0.8")


def _cross(group: etree._Element, x: float, y: float) -> None:
    cross = etree.SubElement(group, f"{{{_SVG}}}path", {"class": "muted"})
    r = RING_RADIUS
    corners = [(x - r, y - r), (x + r, y + r), (x - r, y + r), (x + r, y - r)]
    points = [f"{_number(a)} {_number(b)}" for a, b in corners]
    cross.set("d", f"M{points[0]}L{points[1]}M{points[2]}L{points[3]}")
    cross.set("stroke", INK)
    cross.set("stroke-width", "0.9")
    cross.set("fill", "none")


def _text(
    group: etree._Element, kind: TextClass, x: float, y: float, size: float, text: str
) -> None:
    element = etree.SubElement(group, f"{{{_SVG}}}text", {"class": kind})
    for name, value in (("x", x), ("y", y), ("font-size", size)):
        element.set(name, _number(value))
    element.set("font-family", FONT)
    element.set("text-anchor", "middle")
    element.set("fill", INK)
    element.text = text


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


MARGIN, HEADING_HEIGHT, ROW_GAP = 12.0, 24.0, 14.0

BoxRow = tuple[str, Sequence[tuple[str, Shape]]]


def box_rows_svg(rows: Sequence[BoxRow], per_row: int = 10) -> str:
    """Rows of boxes under their headings as one SVG document, at most `per_row` side by side."""
    lines: list[tuple[str, Sequence[tuple[str, Shape]]]] = []
    for heading, boxes in rows:
        runs = [boxes[i : i + per_row] for i in range(0, len(boxes), per_row)] or [()]
        lines += [(heading if index == 0 else "", run) for index, run in enumerate(runs)]
    root = etree.Element(f"{{{_SVG}}}svg", nsmap={None: _SVG})
    y = widest = MARGIN
    for heading, boxes in lines:
        if heading:
            text = etree.SubElement(root, f"{{{_SVG}}}text", {"class": "heading"})
            for name, value in (("x", MARGIN), ("y", y + TITLE_SIZE), ("font-size", TITLE_SIZE)):
                text.set(name, f"{value:.2f}")
            text.set("font-family", FONT)
            text.set("fill", INK)
            text.text = xml_text(heading)
            y += HEADING_HEIGHT
            # 0.6 of its size is about the width of a letter; only the width of the page needs it.
            widest = max(widest, MARGIN + 0.6 * TITLE_SIZE * len(heading))
        x = MARGIN
        for title, shape in boxes:
            root.append(box_group(shape, title, x, y))
            x += box_size(shape).width
        widest = max(widest, x)
        y += max((box_size(shape).height for _, shape in boxes), default=0.0) + ROW_GAP
    width, height = f"{widest + MARGIN:.2f}", f"{y:.2f}"
    root.set("viewBox", f"0 0 {width} {height}")
    root.set("width", width)
    root.set("height", height)
    return str(etree.tostring(root, encoding="unicode"))
