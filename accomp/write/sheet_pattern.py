"""The strokes of a style's pattern over their spoken count, as a part and a chart show them.

Conventions: a column is the finest division that a stroke or a count needs; places are in columns
from the start of the pattern.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from accomp.rhythm import Style
from accomp.rhythm.describe import count_word
from accomp.rhythm.stroke import ForceStep, Stroke, StrokeDirection, StrokeSound, Technique
from accomp.write.page_text import strings_text

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
    for divisor in (1, 2, 4):
        step = meter.unit / divisor
        if all((stroke.start / step).denominator in {1, 3} for stroke in strokes):
            break
    columns = pattern.length / step
    if columns > _MOST_COLUMNS:
        return None
    step_mm = min(_WIDEST_MM, (width_mm - 14.0) / float(columns))
    return {
        "columns": float(columns),
        "step-mm": step_mm,
        "width-mm": step_mm * float(columns) + 12.0,
        "strokes": [_stroke(stroke, step) for stroke in strokes],
        "counts": [
            {"at": float(at / step), "word": count_word(at % meter.bar, meter)}
            for at in sorted(_counted(strokes, pattern.length, meter.unit))
        ],
        "bars": [
            float(bar * meter.bar / step)
            for bar in range(int(pattern.length / meter.bar) + 1)
            if pattern.length % meter.bar == 0
        ],
    }


def _counted(strokes: list[Stroke], length: Fraction, unit: Fraction) -> set[Fraction]:
    """The moments that get a word: every beat number, and every stroke between them."""
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
