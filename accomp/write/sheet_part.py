"""The part sheet: the strummed part engraved, its shapes and its strokes on their spoken count.

Conventions: columns of the pattern are the finest division that a stroke or a count needs; places
count columns from the start of the pattern.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from accomp.rhythm import Style
from accomp.rhythm.describe import count_word
from accomp.rhythm.stroke import ForceStep, Stroke, StrokeDirection, StrokeSound, Technique
from accomp.score.arrangement import Arrangement
from accomp.score.notate import notate
from accomp.score.notate_layout import ScoreLayout
from accomp.score.written import Score
from accomp.write.engrave import System, engrave
from accomp.write.page_text import strings_text
from accomp.write.pages import Press
from accomp.write.sheet_tune import PagePlace, box_data, shapes_in_order, tune_data

# About how high the parts of the head are, in mm, and what is added to each system for safety.
_HEAD_MM, _PATTERN_MM, _BOXES_MM, _ROUNDING_MM = 22.0, 18.0, 25.0, 0.5
_BOXES_A_ROW = 11
_SMALLER = 0.9  # tried when it saves a page with a single line on it


def part_page(
    arrangement: Arrangement,
    layout: ScoreLayout,
    press: Press,
    place: PagePlace,
    *,
    own: bool,
) -> dict[str, Any]:
    """The data of a part sheet. Boxes and strokes stand in it when it is the player's own part."""
    width_mm = press.width_mm
    pattern = pattern_data(arrangement.bars[0].style, width_mm) if own else None
    shapes = shapes_in_order(arrangement) if own else ()
    head_mm = _HEAD_MM + (_PATTERN_MM if pattern else 0.0)
    head_mm += _BOXES_MM * -(-len(shapes) // _BOXES_A_ROW)
    systems = _engraved(notate(arrangement, layout), press, own, head_mm)
    return {
        "kind": "part",
        "name": "Part",
        "first": place.first,
        "tune": tune_data(arrangement, press.text, place, layout.reader, own=own),
        "pattern": pattern,
        "boxes": box_data(shapes, press.pictures),
        "width-mm": width_mm,
        "systems": [
            {
                "picture": press.pictures.add(system.svg),
                "width-mm": min(system.width_mm, width_mm),
                "gap-mm": _gap_mm(system),
            }
            for system in systems
        ],
    }


def _engraved(score: Score, press: Press, boxes: bool, head_mm: float) -> tuple[System, ...]:
    """The systems; a little smaller where that saves a page with one line on it."""
    width_mm, height_mm = press.width_mm, press.height_mm
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


_WIDEST_MM = 10.0
_MOST_COLUMNS = 34
_SIGNS = {StrokeDirection.DOWN: "↓", StrokeDirection.UP: "↑"}
_PLAIN = {Technique.STROKE, Technique.REST}


def stroke_sign(direction: StrokeDirection, sound: StrokeSound) -> str:
    """An arrow, or a cross for a dead stroke."""
    return "×" if sound == StrokeSound.DEAD else _SIGNS[direction]


def pattern_data(style: Style, width_mm: float) -> dict[str, Any] | None:
    """The pattern of a style, None when it is too long or too fine to be read at a glance."""
    pattern, meter = style.strum, style.meter
    strokes = [stroke for stroke in pattern.strokes if stroke.technique != Technique.REST]
    step = meter.unit
    for divisor in (1, 2, 4):
        step = meter.unit / divisor
        if all((stroke.start / step).denominator in {1, 3} for stroke in strokes):
            break
    columns = pattern.length / step
    if columns > _MOST_COLUMNS:
        return None
    return {
        "columns": float(columns),
        "step-mm": min(_WIDEST_MM, (width_mm - 14.0) / float(columns)),
        "strokes": [_stroke(stroke, step) for stroke in strokes],
        "counts": [
            {"at": float(place / step), "word": count_word(place % meter.bar, meter)}
            for place in sorted(_counted(strokes, pattern.length, meter.unit))
        ],
        "bars": [
            float(bar * meter.bar / step)
            for bar in range(int(pattern.length / meter.bar) + 1)
            if pattern.length % meter.bar == 0
        ],
    }


def _counted(strokes: list[Stroke], length: Fraction, unit: Fraction) -> set[Fraction]:
    """Every number, and the words of the strokes between them."""
    return {i * unit for i in range(-(-length // unit))} | {stroke.start for stroke in strokes}


def _stroke(stroke: Stroke, step: Fraction) -> dict[str, Any]:
    force = {ForceStep.ACCENT: "accent", ForceStep.LIGHT: "light", ForceStep.GHOST: "light"}.get(
        stroke.force, "plain"
    )
    words = (
        strings_text(stroke.strings),
        "" if stroke.technique in _PLAIN else stroke.technique.value,
    )
    return {
        "at": float(stroke.start / step),
        "sign": stroke_sign(stroke.direction, stroke.sound),
        "force": force,
        "choked": stroke.sound in {StrokeSound.CHOKED, StrokeSound.HEEL},
        "strings": " ".join(filter(None, words)),
    }
