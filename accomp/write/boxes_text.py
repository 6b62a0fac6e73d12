"""Chord boxes for a terminal, side by side.

Conventions: strings stand upright, the highest-numbered on the left; the double line is the nut, a
number at the left the fret of its row. A digit is the finger, ● a stopped string without finger,
○ an open string, × one that is not sounded; a line joins what one finger stops.
"""

from __future__ import annotations

from collections.abc import Sequence

BOX_FRETS = 4
GAP = "   "

Row = tuple[int | None, ...]
Box = tuple[str, Row, tuple[int, ...]]


def box_lines(title: str, frets: Row, fingers: tuple[int, ...]) -> list[str]:
    """One box with its title over it and its frets under it; all lines are equally wide."""
    stopped = [fret for fret in frets if fret]
    first = 1 if max(stopped, default=0) <= BOX_FRETS else min(stopped)
    last = max(first + BOX_FRETS - 1, max(stopped, default=0))
    marks = " ".join({None: "×", 0: "○"}.get(fret, " ") for fret in frets)
    nut = "═" if first == 1 else "─"
    under = " ".join("x" if fret is None else str(fret) for fret in frets)
    lines = [f"   {title}", f"   {marks}", f"   {nut * (2 * len(frets) - 1)}"]
    for fret in range(first, last + 1):
        label = f"{fret:>2} " if fret == first and first > 1 else "   "
        lines.append(label + _row(fret, frets, fingers))
    lines.append(f"   {under}")
    width = max(len(line) for line in lines)
    return [line.ljust(width) for line in lines]


def _row(fret: int, frets: Row, fingers: tuple[int, ...]) -> str:
    """The strings at one fret, with a line over what one finger stops."""
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


def boxes_lines(boxes: Sequence[Box], width: int = 80) -> list[str]:
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
    """Boxes of one row; shorter ones end higher, their frets stay under them."""
    height = max(len(box) for box in row)
    lines = []
    for index in range(height):
        cells = [box[index] if index < len(box) else " " * len(box[0]) for box in row]
        lines.append(GAP.join(cells).rstrip())
    return lines
