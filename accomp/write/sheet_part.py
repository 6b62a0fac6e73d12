"""The part sheet: the strummed part engraved, its shapes and its strokes."""

from __future__ import annotations

from typing import Any

from accomp.score.arrangement import Arrangement
from accomp.score.notate import notate
from accomp.score.notate_layout import Layout
from accomp.score.written import Score
from accomp.write.engrave import System, engrave
from accomp.write.formats import Paper
from accomp.write.page_text import PageText
from accomp.write.pages import Pictures, text_height_mm, text_width_mm
from accomp.write.sheet_boxes import box_data, shapes_in_order
from accomp.write.sheet_pattern import pattern_data
from accomp.write.sheet_tune import Place, tune_data

# About how high the parts of the head are, in mm, and what is added to each system for safety.
_HEAD_MM, _PATTERN_MM, _BOXES_MM, _ROUNDING_MM = 22.0, 18.0, 25.0, 0.5
_BOXES_A_ROW = 11
_SMALLER = 0.9  # tried when it saves a page with a single line on it


def part_page(
    arrangement: Arrangement,
    layout: Layout,
    paper: Paper,
    pictures: Pictures,
    text: PageText,
    place: Place,
    *,
    own: bool,
) -> dict[str, Any]:
    """The data of a part sheet. Boxes and strokes stand in it when it is the player's own part."""
    width_mm = text_width_mm(paper)
    pattern = pattern_data(arrangement.bars[0].style, width_mm) if own else None
    shapes = shapes_in_order(arrangement) if own else ()
    head_mm = _HEAD_MM + (_PATTERN_MM if pattern else 0.0)
    head_mm += _BOXES_MM * -(-len(shapes) // _BOXES_A_ROW)
    systems = _engraved(notate(arrangement, layout), paper, own, head_mm)
    return {
        "kind": "part",
        "name": "Part",
        "first": place.first,
        "tune": tune_data(arrangement, text, place, layout.reader, own=own),
        "pattern": pattern,
        "boxes": box_data(shapes, pictures),
        "width-mm": width_mm,
        "systems": [
            {
                "picture": pictures.add(system.svg),
                "width-mm": min(system.width_mm, width_mm),
                "gap-mm": _gap_mm(system),
            }
            for system in systems
        ],
    }


def _engraved(score: Score, paper: Paper, boxes: bool, head_mm: float) -> tuple[System, ...]:
    """The systems; a little smaller where that saves a page with one line on it."""
    width_mm, height_mm = text_width_mm(paper), text_height_mm(paper)
    systems = engrave(score, width_mm, boxes=boxes)
    pages = _pages(systems, height_mm, head_mm)
    if len(pages) > 1 and pages[-1] == 1:
        smaller = engrave(score, width_mm, boxes=boxes, scale=_SMALLER)
        if len(_pages(smaller, height_mm, head_mm)) < len(pages):
            return smaller
    return systems


def _gap_mm(system: System) -> float:
    """White over and under a system: more where it is a single low staff."""
    return 3.0 if system.height_mm > 30 else 7.0


def _pages(systems: tuple[System, ...], height_mm: float, head_mm: float) -> list[int]:
    """How many systems stand on each page."""
    pages, left = [0], height_mm - head_mm
    for system in systems:
        need = system.height_mm + _gap_mm(system) + _ROUNDING_MM
        if need > left:
            pages.append(0)
            left = height_mm
        pages[-1] += 1
        left -= need
    return pages
