"""The part sheet: the strummed part engraved, its shapes and its strokes on their spoken count.

Conventions: heights in mm. The music is laid on pages before the head of the page is set, so the
head's height is estimated, rather a little too high than too low.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from accomp.score.arrangement import Arrangement
from accomp.score.notate import notate
from accomp.score.notate_layout import ScoreLayout
from accomp.score.readers import PlayerPart
from accomp.write.formats import BoxLayout
from accomp.write.pages import PageMaterials
from accomp.write.sheet_fit import PageSpace, laid_out
from accomp.write.sheet_pattern import pattern_data
from accomp.write.sheet_signs import box_signs, pattern_signs
from accomp.write.sheet_tune import (
    PageAddress,
    Printing,
    box_data,
    shapes_in_order,
    title_mm,
    tune_data,
)

_NAMES: Mapping[PlayerPart, str] = {
    "notation": "Notation",
    "tab": "TAB",
    "slash": "Slashes",
    "none": "Bass",
}
_PATTERN_MM, _GAP_MM, _GUTTER_MM = 15.5, 3.0, 8.0  # the pattern's height; white over and beside
_LEAST_BOX_MM, _MOST_BOX_MM, _BOX_GAP_MM, _ROW_GAP_MM = 13.0, 15.5, 1.5, 2.0


def part_pages(
    arrangement: Arrangement,
    printing: Printing,
    materials: PageMaterials,
    address: PageAddress,
    *,
    own: bool,
) -> list[dict[str, Any]]:
    """The data of a part sheet for each layout; the player's own has boxes and strokes."""
    pages: list[dict[str, Any]] = []
    for layout in printing.layouts:
        mine = own and layout.player != "none"
        pages.append(
            {
                "kind": "part",
                "name": "Part" if len(printing.layouts) == 1 else _NAMES.get(layout.player, "Part"),
                "first": address.first and not pages,
                "tune": tune_data(arrangement, materials.text, address, layout.reader, own=mine),
                **_under_title(arrangement, layout, materials, printing.boxes if mine else None),
            }
        )
    return pages


def _under_title(
    arrangement: Arrangement, layout: ScoreLayout, materials: PageMaterials, boxes: BoxLayout | None
) -> dict[str, Any]:
    """The data under the title: strokes and boxes of a player's own part, and the music; with None
    for `boxes` only the music."""
    width_mm = materials.width_mm
    pattern = None if boxes is None else pattern_data(arrangement.bars[0].style, width_mm)
    shapes = shapes_in_order(arrangement) if boxes == "top" else ()
    boxed = () if boxes in (None, "none") else shapes_in_order(arrangement)
    signs = [*box_signs(shape for _, shape in boxed), *pattern_signs(pattern)]
    strip, strip_mm = strip_data(pattern, box_data(shapes, materials.pictures), width_mm)
    head_mm = title_mm(arrangement, width_mm) + strip_mm
    pages = laid_out(
        notate(arrangement, layout),
        PageSpace(width_mm, materials.height_mm - head_mm, materials.height_mm),
        boxes=boxes == "changes",
    )
    return {
        **strip,
        "signs": signs,
        "pages": [
            {
                "gap-mm": page.gap_mm,
                "systems": [
                    {
                        "picture": materials.pictures.add(system.svg),
                        "width-mm": min(system.width_mm, width_mm),
                    }
                    for system in page.systems
                ],
            }
            for page in pages
        ],
    }


def strip_data(
    pattern: Mapping[str, Any] | None, boxes: Sequence[dict[str, Any]], width_mm: float
) -> tuple[dict[str, Any], float]:
    """The data of strokes and boxes, side by side where there is room, and their height in mm."""
    size_mm, rows = _box_rows(boxes, width_mm)
    beside = False
    if pattern and boxes:
        narrow = _box_rows(boxes, width_mm - pattern["width-mm"] - _GUTTER_MM)
        beside = len(narrow[1]) == len(rows)
        size_mm, rows = narrow if beside else (size_mm, rows)
    high = max((box["high"] for box in boxes), default=0.0) * size_mm
    heights = [len(rows) * high + (len(rows) - 1) * _ROW_GAP_MM] if rows else []
    if pattern:
        heights.append(_PATTERN_MM)
    if beside:
        heights = [max(heights)]
    strip = {
        "pattern": pattern,
        "box-mm": size_mm,
        "box-rows": rows,
        "beside": beside,
        "gutter-mm": _GUTTER_MM,
    }
    return strip, sum(height + _GAP_MM for height in heights)


def _box_rows(
    boxes: Sequence[dict[str, Any]], width_mm: float
) -> tuple[float, list[list[dict[str, Any]]]]:
    """The width of a box in mm, and the boxes of each row: one row with the largest boxes that fit,
    or several rows of the smallest."""
    if not boxes:
        return _MOST_BOX_MM, []
    scale = max(box["scale"] for box in boxes)
    fit = max(1, int((width_mm + _BOX_GAP_MM) / (_LEAST_BOX_MM * scale + _BOX_GAP_MM)))
    count = -(-len(boxes) // fit)
    each = -(-len(boxes) // count)
    rows = [list(boxes[at : at + each]) for at in range(0, len(boxes), each)]
    size_mm = ((width_mm + _BOX_GAP_MM) / each - _BOX_GAP_MM) / scale
    return min(_MOST_BOX_MM if count == 1 else _LEAST_BOX_MM, size_mm), rows
