"""A shape as the JSON from which a page draws its box.

Conventions: strings run from the highest-numbered to the first; a fret of null is not sounded.
"""

from __future__ import annotations

from typing import Any

from accomp.neck import Shape
from accomp.write.box import barre_strings, box_frets, first_fret


def shape_json(shape: Shape) -> dict[str, Any]:
    """A shape, with the frets that its box shows."""
    barred = barre_strings(shape)
    return {
        "frets": list(shape.frets),
        "fingers": list(shape.fingers),
        "first": first_fret(shape),
        "rows": box_frets(shape),
        "barre": [shape.barre, barred[0], barred[-1]] if barred else None,
        "degrees": list(shape.degrees),
    }
