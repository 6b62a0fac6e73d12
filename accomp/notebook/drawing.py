"""Drawings of shapes and plans for a notebook: chord boxes as SVG.

Conventions: the SVG is that of the command line with a light background, since its lines are dark
and a notebook may be dark, too. Its content is also there in words, for people who cannot see it.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import singledispatch

from lxml import etree

from accomp.files.text import xml_text
from accomp.neck import ChordShapes, Plan, Shape
from accomp.write.diagram import box_rows_svg, boxes_svg, chord_box_svg
from accomp.write.page_text import chord_text

PAPER = "background:#fffdf8"
_BOXES_A_ROW = 10


@singledispatch
def drawing(value: object) -> str:
    """A value as an SVG document. Raises `TypeError` for a type that has no drawing."""
    raise TypeError(f"a {type(value).__name__} is not drawn")


@drawing.register
def _of_shape(shape: Shape) -> str:
    return _on_paper(chord_box_svg(shape), str(shape))


@drawing.register
def _of_plan(plan: Plan) -> str:
    boxes = [(chord_text(chord), shape) for chord, shape in plan.boxes]
    words = ", ".join(f"{chord}: {shape}" for chord, shape in boxes)
    return drawn_boxes(boxes, f"{plan.name}: {words}")


@drawing.register
def _of_shapes(shapes: ChordShapes) -> str:
    boxes = [(f"{shape.top}{'*' if known else ''}", shape) for shape, known in shapes.shapes]
    heading = f"{chord_text(shapes.chord)}: {len(boxes)} of {shapes.of} shapes, best first"
    svg = box_rows_svg([(heading, boxes)])
    return _on_paper(svg, f"{heading}: {', '.join(map(str, shapes))}")


def drawn_boxes(boxes: Sequence[tuple[str, Shape]], words: str) -> str:
    """Chord boxes side by side, as an SVG document."""
    return _on_paper(boxes_svg(boxes, per_row=_BOXES_A_ROW), words)


def _on_paper(svg: str, words: str) -> str:
    root = etree.fromstring(svg)
    root.set("style", PAPER)
    root.set("role", "img")
    root.set("aria-label", xml_text(words))
    return str(etree.tostring(root, encoding="unicode"))
