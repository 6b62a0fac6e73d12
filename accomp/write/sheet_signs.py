"""The meaning of the signs on a page, in one small line at its foot.

Conventions: only signs that stand on the page are explained, boxes before strokes. The line lies in
the lower margin, so that the music loses no room.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import Any

from accomp.neck import Shape
from accomp.write.box import barre_strings, first_fret

_STROKES = (("↓", "down"), ("↑", "up"), ("×", "dead"))


def box_signs(shapes: Iterable[Shape]) -> list[str]:
    """The signs of these shapes' chord boxes."""
    every = list(shapes)
    frets = {fret for shape in every for fret in shape.frets}
    there = (
        ("● finger, its number below", bool(frets - {None, 0})),
        ("━ one finger over several strings", any(map(barre_strings, every))),
        ("○ open", 0 in frets),
        ("× not sounded", None in frets),
        ("number beside: fret", any(first_fret(shape) > 1 for shape in every)),
    )
    return [words for words, needed in there if needed]


def stroke_signs(signs: Collection[str]) -> list[str]:
    """The signs of strokes."""
    found = [f"{sign} {word}" for sign, word in _STROKES if sign in signs]
    return [f"strokes: {found[0]}", *found[1:]] if found else []


def pattern_signs(pattern: Mapping[str, Any] | None) -> list[str]:
    """The signs of a pattern of strokes over their count."""
    if pattern is None:
        return []
    strokes = pattern["strokes"]
    there = (
        ("small: light", any(one["force"] == "light" for one in strokes)),
        ("> accented", any(one["force"] == "accent" for one in strokes)),
        ("• choked", any(one["choked"] for one in strokes)),
    )
    found = stroke_signs({one["sign"] for one in strokes})
    return [*found, *(words for words, needed in there if needed)]
