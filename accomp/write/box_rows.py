"""Rows of chord boxes with a heading each, as one SVG document.

Conventions: lengths are in SVG user units, as in `accomp.write.diagram`; headings and titles are
text, never markup.
"""

from __future__ import annotations

from collections.abc import Sequence

from lxml import etree

from accomp.neck import Shape
from accomp.write.diagram import FONT, INK, TITLE_SIZE, box_group, box_size
from accomp.write.xml_text import clean

MARGIN, HEADING_HEIGHT, ROW_GAP = 12.0, 24.0, 14.0
_SVG = "http://www.w3.org/2000/svg"

BoxRow = tuple[str, Sequence[tuple[str, Shape]]]


def box_rows_svg(rows: Sequence[BoxRow], per_row: int = 10) -> str:
    """Each row's heading and under it its boxes, `per_row` at most side by side."""
    lines: list[tuple[str, Sequence[tuple[str, Shape]]]] = []
    for heading, boxes in rows:
        parts = [boxes[i : i + per_row] for i in range(0, len(boxes), per_row)] or [()]
        lines += [(heading if index == 0 else "", part) for index, part in enumerate(parts)]
    root = etree.Element(f"{{{_SVG}}}svg", nsmap={None: _SVG})
    y = widest = MARGIN
    for heading, boxes in lines:
        if heading:
            text = etree.SubElement(root, f"{{{_SVG}}}text", {"class": "heading"})
            for name, value in (("x", MARGIN), ("y", y + TITLE_SIZE), ("font-size", TITLE_SIZE)):
                text.set(name, f"{value:.2f}")
            text.set("font-family", FONT)
            text.set("fill", INK)
            text.text = clean(heading)
            y += HEADING_HEIGHT
            # About what a letter of this font takes: only for the width of the page.
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
