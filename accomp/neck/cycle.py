"""The cheapest way round a cycle of chords, exactly: any candidates, any costs.

Conventions: the chords are a cycle, the last leads to the first. `own(i, a)` is what candidate `a`
costs at place `i`, `change(a, b)` what going from `a` to `b` costs. Costs are finite numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from accomp.neck.cost import Floats

Candidate = TypeVar("Candidate", bound=Hashable)


def cheapest_cycle(
    candidates: Sequence[Sequence[Candidate]],
    own: Callable[[int, Candidate], float],
    change: Callable[[Candidate, Candidate], float],
) -> tuple[tuple[Candidate, ...], float]:
    """The candidates, one a place, with the least sum of own costs and changes, and that sum.

    Exact. Every place has a candidate. The cycle is cut at the place with the fewest. One pass
    backward without the closing change gives each candidate there a lower bound. In the order of
    these bounds the cheapest way round from each is found, until the next bound is no better than
    the best sum. Of equal sums the first found stays.
    """
    count = len(candidates)
    cut = min(range(count), key=lambda index: len(candidates[index]))
    order = [(cut + step) % count for step in range(count)]
    owns = [[own(index, one) for one in candidates[index]] for index in order]
    tables = _tables([candidates[index] for index in order], change)
    ahead = _back(owns, tables)
    closing = [[change(last, first) for last in candidates[order[-1]]] for first in candidates[cut]]
    starts = sorted((ahead[0][first] + min(closing[first]), first) for first in range(len(owns[0])))
    best: tuple[float, list[int]] | None = None
    for bound, first in starts:
        if best is not None and bound >= best[0]:
            break
        found = _round(first, owns, tables, closing[first])
        if best is None or found[0] < best[0]:
            best = found
    assert best is not None
    total, way = best
    way = way[count - cut :] + way[: count - cut]
    return tuple(row[choice] for row, choice in zip(candidates, way, strict=True)), total


def _tables(
    rows: Sequence[Sequence[Candidate]], change: Callable[[Candidate, Candidate], float]
) -> list[list[list[float]]]:
    """Costs of all changes from each place to the next; equal pairs of places share one table."""
    known: dict[tuple[int, int], list[list[float]]] = {}
    tables = []
    for here, there in pairwise(rows):
        key = (id(here), id(there))
        if key not in known:
            known[key] = [[change(a, b) for b in there] for a in here]
        tables.append(known[key])
    return tables


def _back(owns: list[list[float]], tables: list[list[list[float]]]) -> list[list[float]]:
    """For each place and candidate the least cost from there to the last place."""
    ahead = [owns[-1]]
    for own, table in zip(reversed(owns[:-1]), reversed(tables), strict=True):
        after = ahead[-1]
        ahead.append(
            [
                cost + min(map(float.__add__, row, after))
                for cost, row in zip(own, table, strict=True)
            ]
        )
    ahead.reverse()
    return ahead


def _round(
    first: int, owns: list[list[float]], tables: list[list[list[float]]], closing: list[float]
) -> tuple[float, list[int]]:
    """The cheapest way round that begins and ends at candidate `first` of the first place."""
    last = [cost + back for cost, back in zip(owns[-1], closing, strict=True)]
    ahead = _back([*owns[:-1], last], tables)
    way = [first]
    for step, table in enumerate(tables):
        row, after = table[way[-1]], ahead[step + 1]
        way.append(min(range(len(after)), key=lambda one: row[one] + after[one]))
    return ahead[0][first], way


def cheapest_cycle_wide(
    owns: Sequence[Floats], tables: Sequence[Floats]
) -> tuple[list[int], float]:
    """The cheapest way round, as the index of a candidate at each place, and its sum.

    `tables[i]` are the changes from place i to the next, the last back to the first. Exact, by the
    method of `cheapest_cycle`, with arrays for very many candidates.
    """
    inner, closing = tables[:-1], tables[-1]
    ahead = _back_by_arrays(owns, inner)
    bounds = ahead[0] + closing.min(axis=0)
    best_cost, best_way = float("inf"), [0]
    for first in bounds.argsort(kind="stable").tolist():
        if bounds[first] >= best_cost:
            break
        rows = [*owns[:-1], owns[-1] + closing[:, first]]
        back = _back_by_arrays(rows, inner)
        if back[0][first] < best_cost:
            best_cost, way = float(back[0][first]), [first]
            for step, table in enumerate(inner):
                way.append(int((table[way[-1]] + back[step + 1]).argmin()))
            best_way = way
    return best_way, best_cost


def _back_by_arrays(owns: Sequence[Floats], tables: Sequence[Floats]) -> list[Floats]:
    """For each place and candidate the least cost from there to the last place."""
    ahead = [owns[-1]]
    for own, table in zip(reversed(owns[:-1]), reversed(tables), strict=True):
        ahead.append(own + (table + ahead[-1][None, :]).min(axis=1))
    ahead.reverse()
    return ahead
