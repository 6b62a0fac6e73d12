"""Chord boxes as pictures for a page."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from accomp.harmony import Chord
from accomp.neck import Shape
from accomp.score.arrangement import Arrangement
from accomp.write.diagram import box_size, chord_box_svg
from accomp.write.page_text import chord_text
from accomp.write.pages import Pictures

_USUAL_WIDTH = 63.0  # of a box with four strings, in its own units


def shapes_in_order(arrangement: Arrangement) -> tuple[tuple[Chord, Shape], ...]:
    """Each chord with each of its shapes, in order of first use."""
    pairs = (
        (change.chord, change.shape)
        for bar in arrangement.bars
        for change in bar.changes
        if change.chord is not None and change.shape is not None
    )
    return tuple(dict.fromkeys(pairs))


def box_data(
    pairs: Iterable[tuple[Chord | str, Shape]], pictures: Pictures
) -> list[dict[str, Any]]:
    """A picture for each pair; `scale` is its width beside a box with four strings."""
    return [
        {
            "picture": pictures.add(
                chord_box_svg(shape, name if isinstance(name, str) else chord_text(name))
            ),
            "scale": box_size(shape).width / _USUAL_WIDTH,
        }
        for name, shape in pairs
    ]
