"""Planning problems with very many candidates, made small without losing the best plan.

Conventions: as in `accomp.neck.fixed` and `accomp.neck.planner`, with arrays in place of lists.
The bound is raised in the same way; then every candidate with which no choice can be as cheap as
one that is known already is struck out, and again, until no more fall.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SWEEPS = 12
ROUNDS = 6
_SLACK = 1e-9  # candidates so much too dear stay, against rounding


def narrow(
    own: Sequence[Floats], pairs: Mapping[tuple[int, int], Floats], below: float = float("inf")
) -> list[list[int]] | None:
    """For each symbol the candidates that the cheapest fixed choice may use.

    `own` and `pairs` are as in `accomp.neck.fixed.FixedProblem`. None when every choice costs
    `below` or more.
    """
    import numpy as np

    kept = [np.arange(len(row)) for row in own]
    for _ in range(ROUNDS):
        rows = [row[some] for row, some in zip(own, kept, strict=True)]
        tables = {(v, w): t[np.ix_(kept[v], kept[w])] for (v, w), t in pairs.items()}
        bound, reduced = _reduced(rows, tables)
        known = min(below, _some_choice(rows, tables, reduced))
        if bound >= below:
            return None
        limit = known - bound + _SLACK * (1.0 + abs(known))
        masks = [row <= limit for row in reduced]
        if not all(mask.any() for mask in masks):
            return None
        if all(mask.all() for mask in masks):
            break
        kept = [some[mask] for some, mask in zip(kept, masks, strict=True)]
    return [some.tolist() for some in kept]


def _reduced(
    own: Sequence[Floats], pairs: Mapping[tuple[int, int], Floats]
) -> tuple[float, list[Floats]]:
    """A bound below every choice, and by how much each candidate raises it at least."""
    count = len(own)
    moved = [row.copy() for row in own]
    tables = {key: table.copy() for key, table in pairs.items()}
    neighbours: list[list[int]] = [[] for _ in own]
    for v, w in pairs:
        neighbours[v].append(w)
        neighbours[w].append(v)

    def take(v: int, w: int) -> Floats:
        """Take from the pair all that `v` can have."""
        if v < w:
            least: Floats = tables[v, w].min(axis=1)
            tables[v, w] -= least[:, None]
        else:
            least = tables[w, v].min(axis=0)
            tables[w, v] -= least[None, :]
        return least

    def give(v: int, w: int, row: Floats) -> None:
        if v < w:
            tables[v, w] += row[:, None]
        else:
            tables[w, v] += row[None, :]

    for sweep in range(2 * SWEEPS):
        order = range(count) if sweep % 2 == 0 else range(count - 1, -1, -1)
        ahead = set(order)
        for v in order:
            ahead.discard(v)
            for w in neighbours[v]:
                moved[v] = moved[v] + take(v, w)
            onward = [w for w in neighbours[v] if w in ahead]
            share = 1.0 / max(len(onward), len(neighbours[v]) - len(onward), 1)
            for w in onward:
                give(v, w, share * moved[v])
            moved[v] = moved[v] * (1.0 - share * len(onward))
    for v in range(count):
        for w in neighbours[v]:
            moved[v] = moved[v] + take(v, w)
    least = sum(float(table.min()) for table in tables.values())
    return sum(float(row.min()) for row in moved) + least, [row - row.min() for row in moved]


def _some_choice(
    own: Sequence[Floats], pairs: Mapping[tuple[int, int], Floats], reduced: Sequence[Floats]
) -> float:
    """The cost of a good choice: the least of each row, then each symbol made best in turn."""
    choice = [int(row.argmin()) for row in reduced]
    changed = True
    while changed:
        changed = False
        for v in range(len(own)):
            row = own[v].copy()
            for (a, b), table in pairs.items():
                if a == v:
                    row += table[:, choice[b]]
                elif b == v:
                    row += table[choice[a], :]
            best = int(row.argmin())
            if row[best] < row[choice[v]] - _SLACK:
                choice[v], changed = best, True
    return sum(float(row[a]) for row, a in zip(own, choice, strict=True)) + sum(
        float(table[choice[v], choice[w]]) for (v, w), table in pairs.items()
    )


def cheapest_cycle_wide(
    owns: Sequence[Floats], tables: Sequence[Floats]
) -> tuple[list[int], float]:
    """The cheapest way round: `tables[i]` from place i to the next, the last back to the first.

    Exact, in the same way as `accomp.neck.planner.cheapest_cycle`.
    """
    inner, closing = tables[:-1], tables[-1]
    ahead = _back(owns, inner)
    bounds = ahead[0] + closing.min(axis=0)
    best_cost, best_way = float("inf"), [0]
    for first in bounds.argsort(kind="stable").tolist():
        if bounds[first] >= best_cost:
            break
        rows = [*owns[:-1], owns[-1] + closing[:, first]]
        back = _back(rows, inner)
        if back[0][first] < best_cost:
            best_cost, way = float(back[0][first]), [first]
            for step, table in enumerate(inner):
                way.append(int((table[way[-1]] + back[step + 1]).argmin()))
            best_way = way
    return best_way, best_cost


def _back(owns: Sequence[Floats], tables: Sequence[Floats]) -> list[Floats]:
    """For each place and candidate the least cost from there to the last place."""
    ahead = [owns[-1]]
    for own, table in zip(reversed(owns[:-1]), reversed(tables), strict=True):
        ahead.append(own + (table + ahead[-1][None, :]).min(axis=1))
    ahead.reverse()
    return ahead
