"""The part of a shape that a chord box shows (frets, barre), and boxes for a terminal.

Conventions: frets count from the nut; a box that begins at fret 1 shows the nut. In text, strings
stand upright, the highest-numbered on the left; the double line is the nut, a number at the left
the fret of its row. A digit is the finger, ● a stopped string without finger, ○ an open string, ×
one that is not sounded; a line joins the strings that one finger stops.
"""

from __future__ import annotations

from collections.abc import Sequence

from accomp.files.text import frets_text
from accomp.neck import Shape
from accomp.neck.explain import ShapeBox
from accomp.neck.fingering import Frets

BOX_FRETS = 4
GAP = "   "


def box_window(frets: Frets) -> range:
    """The frets that a box shows, at least `BOX_FRETS`: from the first where all stopped frets fit
    in such a box, else from the lowest stopped fret."""
    stopped = [fret for fret in frets if fret]
    highest = max(stopped, default=0)
    first = 1 if highest <= BOX_FRETS else min(stopped)
    return range(first, max(first + BOX_FRETS, highest + 1))


def first_fret(shape: Shape) -> int:
    """The fret in the topmost space of the box."""
    return box_window(shape.frets).start


def box_frets(shape: Shape) -> int:
    """How many frets the box shows."""
    return len(box_window(shape.frets))


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


def box_lines(title: str, frets: Frets, fingers: tuple[int, ...]) -> list[str]:
    """One box with its title over it and its frets under it; all lines are equally wide."""
    window = box_window(frets)
    first = window.start
    marks = " ".join({None: "×", 0: "○"}.get(fret, " ") for fret in frets)
    nut = "═" if first == 1 else "─"
    lines = [f"   {title}", f"   {marks}", f"   {nut * (2 * len(frets) - 1)}"]
    for fret in window:
        label = f"{fret:>2} " if fret == first and first > 1 else "   "
        lines.append(label + _row(fret, frets, fingers))
    lines.append(f"   {frets_text(frets)}")
    width = max(len(line) for line in lines)
    return [line.ljust(width) for line in lines]


def _row(fret: int, frets: Frets, fingers: tuple[int, ...]) -> str:
    """The strings at one fret, with a line over those that one finger stops."""
    at = [index for index, one in enumerate(frets) if one == fret]
    joined: set[int] = set()
    for finger in {fingers[index] for index in at} - {0}:
        same = [index for index in at if fingers[index] == finger]
        joined |= set(range(same[0], same[-1]))
    cells = []
    for index in range(len(frets)):
        if index in at:
            cells.append(str(fingers[index]) if fingers[index] else "●")
        else:
            cells.append("┿" if index in joined and index - 1 in joined else "│")
        if index + 1 < len(frets):
            cells.append("━" if index in joined else " ")
    return "".join(cells)


def boxes_lines(boxes: Sequence[ShapeBox], width: int = 80) -> list[str]:
    """Boxes side by side, as many in a row as fit into `width` characters."""
    drawn = [box_lines(*box) for box in boxes]
    lines: list[str] = []
    while drawn:
        row = [drawn.pop(0)]
        while drawn and _width(row) + len(GAP) + len(drawn[0][0]) <= width:
            row.append(drawn.pop(0))
        lines += [""] if lines else []
        lines += _beside(row)
    return lines


def _width(row: Sequence[Sequence[str]]) -> int:
    return sum(len(box[0]) for box in row) + len(GAP) * (len(row) - 1)


def _beside(row: Sequence[list[str]]) -> list[str]:
    """The lines of one row of boxes; a shorter box ends higher, with its frets under it."""
    height = max(len(box) for box in row)
    lines = []
    for index in range(height):
        cells = [box[index] if index < len(box) else " " * len(box[0]) for box in row]
        lines.append(GAP.join(cells).rstrip())
    return lines
