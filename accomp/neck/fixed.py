"""The cheapest choice of one candidate for each chord symbol of a tune, exactly.

Conventions: symbols are numbers 0 to n - 1. `own[v][a]` is what candidate `a` of symbol `v` costs
in the whole tune, `pairs[v, w][a][b]` (v < w) what all changes between symbols `v` and `w` cost
when they are played with candidates `a` and `b`. The sum of all of these is made least.

This is not a shortest path, since a symbol has the same candidate wherever it stands. It is solved
by branch and bound. For the bound, costs are moved between a symbol and its pairs (soft arc
consistency in a fixed order, forward and back). The sum of every choice stays the same, while the
sum of the least own cost of each symbol and the least cost of each pair grows. No choice can cost
less than that sum, and a choice that costs the same is proved best.

Problems with very many candidates are first made small with arrays, without losing the best choice:
the bound is raised in the same way, and a candidate is struck out when every choice with it must be
dearer than a choice known already. This is repeated until no more candidates fall.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from operator import add, sub
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from accomp.neck.cost import Floats

CostTable = list[list[float]]

MOST_NODES = (
    60_000  # about 2 s; a count and not a time, so that results do not depend on the machine
)
SWEEPS = 60
_SETTLED = 1e-7  # a sweep that raises the bound by a smaller share of itself is the last
NARROWING_SWEEPS = 12
NARROWING_ROUNDS = 6
SLACK = 1e-9  # candidates that are too dear by less than this stay, against rounding
_SAME = 1e-12  # sums of the same costs in another order differ by less


@dataclass(frozen=True, slots=True)
class Choice:
    """The best choice found: a candidate for each symbol, and its `cost`.

    Nothing costs less than `bound`, which is `cost` where the choice is proved to be the cheapest.
    """

    candidates: tuple[int, ...]
    cost: float
    bound: float


class FixedProblem:
    """Symbols, candidates and costs. No choice costs less than `bound`, which can be raised."""

    def __init__(
        self, own: Sequence[Sequence[float]], pairs: Mapping[tuple[int, int], CostTable]
    ) -> None:
        self.own = [list(row) for row in own]
        self.pairs = pairs
        self.moved = [list(row) for row in own]  # own costs, and costs moved to them
        self.across = {key: _turned(table) for key, table in pairs.items()}
        # what has been taken from a pair's table on behalf of its first and second symbol
        self.taken = {(v, w): ([0.0] * len(own[v]), [0.0] * len(own[w])) for v, w in pairs}
        self.neighbours: list[list[int]] = [[] for _ in own]
        for v, w in pairs:
            self.neighbours[v].append(w)
            self.neighbours[w].append(v)
        self.bound = sum(map(min, own)) + sum(min(map(min, table)) for table in pairs.values())

    def cost(self, candidates: Sequence[int]) -> float:
        """The sum of a choice, from the costs as given."""
        return sum(row[a] for row, a in zip(self.own, candidates, strict=True)) + sum(
            table[candidates[v]][candidates[w]] for (v, w), table in self.pairs.items()
        )

    def raise_bound(self, enough: float = float("inf")) -> float:
        """Move costs until the bound settles or reaches `enough`; gives the bound."""
        order = list(range(len(self.own)))
        for _ in range(SWEEPS):
            before = self.bound
            self._sweep(order)
            order.reverse()
            self._sweep(order)
            order.reverse()
            self.bound = max(before, self._sum_of_least())
            if self.bound >= enough or self.bound - before < _SETTLED * (1.0 + abs(before)):
                break
        return self.bound

    def _sweep(self, order: list[int]) -> None:
        """At each symbol in order, take costs from all its pairs, and give to pairs still ahead."""
        ahead = set(order)
        for v in order:
            ahead.discard(v)
            row = self.moved[v]
            for w in self.neighbours[v]:
                row = list(map(add, row, self._take(v, w)))
            onward = [w for w in self.neighbours[v] if w in ahead]
            behind = len(self.neighbours[v]) - len(onward)
            share = 1.0 / max(len(onward), behind, 1)
            for w in onward:
                taken = self._taken(v, w)
                taken[:] = map(sub, taken, [share * cost for cost in row])
            self.moved[v] = [cost * (1.0 - share * len(onward)) for cost in row]

    def _taken(self, v: int, w: int) -> list[float]:
        """The costs taken from the pair of `v` and `w` on behalf of `v`."""
        return self.taken[v, w][0] if v < w else self.taken[w, v][1]

    def _take(self, v: int, w: int) -> list[float]:
        """Take the least of each of `v`'s rows out of its pair with `w`; gives what was taken."""
        table = self.pairs[v, w] if v < w else self.across[w, v]
        mine, other = self._taken(v, w), self._taken(w, v)
        least = [min(map(sub, row, other)) for row in table]
        gain = list(map(sub, least, mine))
        mine[:] = least
        return gain

    def _sum_of_least(self) -> float:
        total: float = sum(map(min, self.moved)) + sum(
            min(min(map(sub, row, theirs)) - one for row, one in zip(table, mine, strict=True))
            for (table, (mine, theirs)) in (
                (self.pairs[key], self.taken[key]) for key in self.pairs
            )
        )
        return total


def cheapest_choice(
    problem: FixedProblem, *, below: float = float("inf"), most_nodes: int = MOST_NODES
) -> Choice | None:
    """The cheapest choice, None when none costs less than `below`.

    Exact unless more than `most_nodes` partial choices had to be looked at; then `bound` is below
    `cost`, and there are no candidates where nothing below `below` was found so far.
    """
    problem.raise_bound(enough=below)
    if problem.bound >= below:
        return None
    search = _Search(problem, below, most_nodes)
    search.run()
    if search.best is None and search.open_bound >= below:
        return None
    if search.best is None:
        return Choice((), below, search.open_bound)
    return Choice(tuple(search.best), search.cost, min(search.cost, search.open_bound))


def _turned(table: CostTable) -> CostTable:
    """The table with rows and columns exchanged."""
    return [list(column) for column in zip(*table, strict=True)]


class _Search:
    """Depth first, symbol by symbol, candidates in the order of their bounds."""

    def __init__(self, problem: FixedProblem, below: float, most_nodes: int) -> None:
        self.problem = problem
        self.cost = self.worth = below  # `worth`: a partial choice must cost less
        self.best: list[int] | None = None
        self.nodes_left = most_nodes
        self.open_bound = float("inf")
        # All costs of pairs that can be moved go to the symbols. What is left in a pair is at
        # least 0 everywhere and is paid when both symbols are chosen.
        rows = [list(row) for row in problem.moved]
        self.left: dict[tuple[int, int], CostTable] = {}
        for (v, w), table in problem.pairs.items():
            for one, other in ((v, w), (w, v)):
                rows[one] = list(map(add, rows[one], problem._take(one, other)))
            mine, theirs = problem.taken[v, w]
            rest = [
                [cost - a - b for cost, b in zip(row, theirs, strict=True)]
                for row, a in zip(table, mine, strict=True)
            ]
            self.left[v, w] = rest
            self.left[w, v] = _turned(rest)
        problem.moved = [list(row) for row in rows]
        self.rows = rows
        self.choice = [-1] * len(rows)

    def run(self) -> None:
        rows = self.rows
        self._descend(sum(map(min, rows)), rows, set(range(len(rows))))

    def _descend(self, bound: float, rows: list[list[float]], free: set[int]) -> None:
        if not free:
            cost = self.problem.cost(self.choice)
            if cost < self.cost:
                self.cost, self.best = cost, list(self.choice)
                self.worth = cost - _SAME * (1.0 + abs(cost))
            return
        v, least = self._next(rows, free)
        rest = free - {v}
        order = sorted(range(len(rows[v])), key=rows[v].__getitem__)
        for a in order:
            within = bound + rows[v][a] - least
            if within >= self.worth:
                return
            if self.nodes_left <= 0:
                self.open_bound = min(self.open_bound, within)
                return
            self.nodes_left -= 1
            self.choice[v] = a
            changed, total = list(rows), within
            for w in self.problem.neighbours[v]:
                if w in rest:
                    row = list(map(add, rows[w], self.left[v, w][a]))
                    total += min(row) - min(rows[w])
                    changed[w] = row
            if total < self.worth:
                self._descend(total, changed, rest)

    def _next(self, rows: list[list[float]], free: set[int]) -> tuple[int, float]:
        """The symbol with the widest gap between its two best candidates, and its least cost."""
        best, best_gap, best_least = -1, -1.0, 0.0
        for v in sorted(free):
            row = rows[v]
            least = min(row)
            gap = float("inf") if len(row) == 1 else sorted(row)[1] - least
            if gap > best_gap:
                best, best_gap, best_least = v, gap, least
        return best, best_least


def narrow(
    own: Sequence[Floats], pairs: Mapping[tuple[int, int], Floats], below: float = float("inf")
) -> list[list[int]] | None:
    """For each symbol the candidates that the cheapest fixed choice may use.

    `own` and `pairs` are those of a `FixedProblem`, as arrays. None when every choice costs
    `below` or more.
    """
    import numpy as np

    kept = _at_first_sight(own, pairs, below)
    for _ in range(NARROWING_ROUNDS):
        rows = [row[some] for row, some in zip(own, kept, strict=True)]
        tables = {(v, w): t[np.ix_(kept[v], kept[w])] for (v, w), t in pairs.items()}
        bound, more = reduced(rows, tables)
        known = min(below, _some_choice(rows, tables, more))
        if bound >= below:
            return None
        limit = known - bound + SLACK * (1.0 + abs(known))
        masks = [row <= limit for row in more]
        if not all(mask.any() for mask in masks):
            return None
        if all(mask.all() for mask in masks):
            break
        kept = [some[mask] for some, mask in zip(kept, masks, strict=True)]
    return [some.tolist() for some in kept]


def _at_first_sight(
    own: Sequence[Floats], pairs: Mapping[tuple[int, int], Floats], below: float
) -> list[NDArray[np.intp]]:
    """For each symbol the candidates left by a quick bound: half of the least change on each side.

    It leaves more than the narrowing proper, in a fraction of the time.
    """
    import numpy as np

    rows = [row.copy() for row in own]
    for (v, w), table in pairs.items():
        rows[v] += 0.5 * table.min(axis=1)
        rows[w] += 0.5 * table.min(axis=0)
    known = min(below, _some_choice(own, pairs, rows))
    limit = known - sum(float(row.min()) for row in rows) + SLACK * (1.0 + abs(known))
    masks = [row - row.min() <= limit for row in rows]
    if not all(mask.any() for mask in masks):  # nothing costs less; the bound proper will say so
        masks = [row >= row.min() for row in rows]
    return [np.flatnonzero(mask) for mask in masks]


def reduced(
    own: Sequence[Floats],
    pairs: Mapping[tuple[int, int], Floats],
    sweeps: int = NARROWING_SWEEPS,
) -> tuple[float, list[Floats]]:
    """A lower bound of every choice, and by how much each candidate raises it at least."""
    count = len(own)
    moved = [row.copy() for row in own]
    tables = {key: table.copy() for key, table in pairs.items()}
    neighbours: list[list[int]] = [[] for _ in own]
    for v, w in pairs:
        neighbours[v].append(w)
        neighbours[w].append(v)

    def take(v: int, w: int) -> Floats:
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

    for sweep in range(2 * sweeps):
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
    """The cost of a good choice: the least of each row, then one symbol improved at a time."""
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
            if row[best] < row[choice[v]] - SLACK:
                choice[v], changed = best, True
    return sum(float(row[a]) for row, a in zip(own, choice, strict=True)) + sum(
        float(table[choice[v], choice[w]]) for (v, w), table in pairs.items()
    )
