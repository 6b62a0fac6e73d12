"""What a chord box shows of a shape: its window of frets, its barre.

Conventions: frets count from the nut; a box that begins at fret 1 shows the nut.
"""

from __future__ import annotations

from accomp.neck import Shape

BOX_FRETS = 4


def first_fret(shape: Shape) -> int:
    """The fret in the topmost space of the box: 1 when everything fits below the nut."""
    return 1 if shape.highest_fret <= BOX_FRETS else shape.lowest_fret


def box_frets(shape: Shape) -> int:
    """How many frets the box shows."""
    return max(BOX_FRETS, shape.highest_fret - first_fret(shape) + 1)


def barre_strings(shape: Shape) -> tuple[int, ...]:
    """Indices of the strings that the barring finger stops at its fret, none without a barre."""
    if shape.barre is None:
        return ()
    at_fret = [i for i, fret in enumerate(shape.frets) if fret == shape.barre]
    for finger in sorted({shape.fingers[i] for i in at_fret} - {0}):
        strings = tuple(i for i in at_fret if shape.fingers[i] == finger)
        if len(strings) > 1:
            return strings
    return ()
