"""How a part is laid on pages: its lines, their size, and where pages are turned.

Conventions: heights and white in mm. The fewest pages come first: players have no hand free to
turn. Then the way that reads best is taken (`ways_to_break`), then page turns at the end of a
section, or at a rest, and pages that are about equally full.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from accomp.score.written import Barline, Measure, Score
from accomp.write.engrave import System, engrave
from accomp.write.engrave_lines import Lines, ways_to_break

# White over a system: the least, the usual, and the most where a page has room.
LEAST_GAP_MM, EASY_GAP_MM, MOST_GAP_MM = 2.0, 3.5, 9.0
# The cost of a page turn; the square of the share of a page that stays empty is added to it.
_TURN, _TURN_AT_REST = 0.4, 0.15


@dataclass(frozen=True, slots=True)
class PageSpace:
    """The width of a line, and the height for music on the first page and on the others, in mm."""

    width_mm: float
    first_mm: float
    other_mm: float

    def height_mm(self, page: int) -> float:
        """The height on a page, counted from 0."""
        return self.other_mm if page else self.first_mm


@dataclass(frozen=True, slots=True)
class LaidPage:
    """The systems of a page, with the same white over each."""

    systems: tuple[System, ...]
    gap_mm: float


def laid_out(score: Score, space: PageSpace, *, boxes: bool) -> tuple[LaidPage, ...]:
    """Engrave a part for its pages; with `boxes` a chord box stands over each change."""
    measures = score.parts[0].measures
    ways = ways_to_break(measures, space.width_mm)
    made: dict[Lines, tuple[System, ...]] = {}
    units: dict[tuple[int, ...], list[float]] = {}  # heights at size 1, by where lines begin

    def engraved(way: Lines) -> tuple[System, ...]:
        if way not in made:
            made[way] = engrave(score, space.width_mm, way, boxes=boxes)
        units[way.starts] = [system.height_mm / way.size for system in made[way]]
        return made[way]

    def pages(way: Lines, gap_mm: float) -> tuple[int, ...]:
        if way.starts not in units:
            engraved(way)
        heights = [height * way.size + gap_mm for height in units[way.starts]]
        return paged(heights, space, _turns(measures, way.starts))

    smallest = min(ways, key=lambda way: (len(way.starts), way.size))
    fewest = 1 if len(pages(ways[0], EASY_GAP_MM)) == 1 else len(pages(smallest, LEAST_GAP_MM))
    tried = [(way, gap_mm) for gap_mm in (EASY_GAP_MM, LEAST_GAP_MM) for way in ways]
    for way, gap_mm in (*tried, (smallest, LEAST_GAP_MM)):
        if len(pages(way, gap_mm)) > fewest and way is not smallest:
            continue
        systems = engraved(way)  # heights were estimated from another size; now they are exact
        counts = pages(way, gap_mm)
        if len(counts) <= fewest:
            break
    return _laid(systems, counts, space)


def _laid(
    systems: Sequence[System], counts: Sequence[int], space: PageSpace
) -> tuple[LaidPage, ...]:
    out = []
    at = 0
    for page, count in enumerate(counts):
        shown = tuple(systems[at : at + count])
        spare = space.height_mm(page) - sum(system.height_mm for system in shown)
        out.append(LaidPage(shown, max(LEAST_GAP_MM, min(MOST_GAP_MM, spare / count))))
        at += count
    return tuple(out)


def paged(
    heights: Sequence[float], space: PageSpace, turns: Mapping[int, float]
) -> tuple[int, ...]:
    """How many systems stand on each page, on as few pages as possible. `heights` include the white
    over each system, `turns` are the costs of turning before a system. A system higher than a page
    stands alone.
    """
    best: list[tuple[int, float, tuple[int, ...]]] = [(0, 0.0, ())]
    for end in range(1, len(heights) + 1):
        found = []
        for start in range(end - 1, -1, -1):
            number, cost, counts = best[start]
            whole = space.height_mm(number)
            left = whole - sum(heights[start:end])
            if left < 0 and end - start > 1:
                break
            cost += max(0.0, left / whole) ** 2 + turns.get(end, 0.0)
            found.append((number + 1, cost, (*counts, end - start)))
        best.append(min(found))
    return best[-1][2]


def _turns(measures: Sequence[Measure], starts: Sequence[int]) -> dict[int, float]:
    """The cost of turning the page before each line except the first."""
    return {
        line: _turn(measures[start - 1], measures[start])
        for line, start in enumerate(starts)
        if line
    }


def _turn(before: Measure, after: Measure) -> float:
    if after.rehearsal or after.repeat_start or before.repeat_end:
        return 0.0
    if before.barline != Barline.REGULAR:
        return 0.0
    hands_free = not before.events[-1].notes or not after.events[0].notes
    return _TURN_AT_REST if hands_free else _TURN
