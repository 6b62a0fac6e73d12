"""The cheapest plan for a tune in one area, fixed or free, from its candidates.

Conventions: the chords are a cycle, the last leads to the first; its symbols are numbered in order
of first use. Costs count a shape once for each time it is played, a change once for each change and
a family to be learnt once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from accomp.neck.cost import CostModel, ShapeRow
from accomp.neck.cycle import cheapest_cycle, cheapest_cycle_wide
from accomp.neck.fixed import SLACK, FixedProblem, cheapest_choice, narrow, reduced
from accomp.neck.free import BoundedWay, cheapest_free
from accomp.neck.learning import LearningCosts, worth_learning
from accomp.neck.pools import Candidate, Slot
from accomp.neck.search import too_many_shapes
from accomp.neck.shape import Grip

if TYPE_CHECKING:
    from accomp.neck.cost import Floats

# From so many pairs of candidates of two symbols on, arrays are faster: BULK to add up changes,
# WIDE to narrow the problem, too. Narrowing also pays from MANY candidates of all symbols on.
BULK, WIDE, MANY = 150, 2500, 120
AT_FIRST_SWEEPS = 3  # for the bounds of a whole area; more sweeps strike out few more candidates
MOST_PAIRS = 4_000_000  # of two symbols: one array takes 32 MB, and several are held at once


@dataclass(frozen=True)
class Bounds:
    """For each symbol and candidate (by its id) a lower bound of every fixed way that takes it."""

    rows: tuple[Mapping[int, float], ...]

    def worth(
        self, candidates: Sequence[Sequence[Candidate]], below: float
    ) -> list[Sequence[Candidate]] | None:
        """The candidates of ways that may cost less than `below`; None when no way can."""
        limit = below + SLACK * (1.0 + abs(below))
        kept: list[Sequence[Candidate]] = [
            [one for one in row if bounds[id(one)] < limit]
            for row, bounds in zip(candidates, self.rows, strict=True)
        ]
        return kept if all(kept) else None


class ChordCycle:
    """The chords of a tune, round and round, as a planning problem."""

    def __init__(self, slots: Sequence[Slot], costs: CostModel) -> None:
        self.slots = tuple(slots)
        self.symbols = tuple(dict.fromkeys(slots))
        number = {slot: index for index, slot in enumerate(self.symbols)}
        self.order = [number[slot] for slot in slots]
        self.times = Counter(self.order)
        self.changes = Counter(zip(self.order, self.order[1:] + self.order[:1], strict=True))
        self.costs = costs
        self._tables: dict[tuple[int, int, int, int], list[list[float]]] = {}
        self._arrays: dict[tuple[int, int], Floats] = {}
        self._rows: dict[int, ShapeRow] = {}
        self._kept: list[Sequence[Candidate]] = []  # ids are keys only while their lists live

    def least(self, candidates: Sequence[Sequence[Candidate]]) -> float:
        """A quick lower bound: each symbol's cheapest candidate, changes left out."""
        return sum(
            times * min(one.cost for one in candidates[symbol])
            for symbol, times in self.times.items()
        )

    def bounds(self, candidates: Sequence[Sequence[Candidate]]) -> Bounds | None:
        """Lower bounds that serve many searches among these candidates; None where they do not pay.

        The price of learning a family is shared equally by the places that may use it.
        """
        if not self._many(candidates) or self._pairs(candidates) > MOST_PAIRS:
            return None
        import numpy as np

        places = self._places(candidates)
        share = {family: self._price / count for family, count in places.items()}
        own = [
            self.times[symbol] * np.array([one.cost + share.get(one.family, 0.0) for one in row])
            for symbol, row in enumerate(candidates)
        ]
        pairs = self._arrays_of_pairs(candidates)
        least, more = reduced(own, pairs, AT_FIRST_SWEEPS)
        return Bounds(
            tuple(
                dict(zip(map(id, row), (least + above).tolist(), strict=True))
                for row, above in zip(candidates, more, strict=True)
            )
        )

    def _places(self, candidates: Sequence[Sequence[Candidate]]) -> Counter[Hashable]:
        """How many places may use each family that has to be learnt."""
        places: Counter[Hashable] = Counter()
        for symbol, times in self.times.items():
            for family in {one.family for one in candidates[symbol]} - {None}:
                places[family] += times
        return places

    def fixed(
        self, candidates: Sequence[Sequence[Candidate]], below: float = float("inf")
    ) -> BoundedWay[Candidate] | None:
        """The cheapest way with one candidate a symbol; None when nothing costs less than `below`.

        When the search gives up before the proof, `bound` is less than `cost`; the path is empty
        when nothing below `below` was found but something may exist.
        """
        if self._many(candidates):
            narrowed = self._narrowed(candidates, below)
            if narrowed is None:
                return None
            candidates = narrowed
        own = self._own_costs(candidates)
        pairs = {(v, w): self._table(v, w, candidates[v], candidates[w]) for v, w in self._edges()}
        learning = self._learning_costs(candidates)
        own = [
            [cost + more for cost, more in zip(row, added, strict=True)]
            for row, added in zip(own, learning.own, strict=True)
        ] + learning.rows
        choice = cheapest_choice(FixedProblem(own, pairs | learning.tables()), below=below)
        if choice is None:
            return None
        if not choice.candidates:
            return BoundedWay((), below, choice.bound)
        path = tuple(candidates[symbol][choice.candidates[symbol]] for symbol in self.order)
        return BoundedWay(path, choice.cost, choice.bound)

    def free(
        self, candidates: Sequence[Sequence[Candidate]], below: float = float("inf")
    ) -> BoundedWay[Candidate] | None:
        """The cheapest way with a candidate for each place; None and `bound` as in `fixed`."""
        places = self._places(candidates)
        wide = self._pairs(candidates) > WIDE

        def ways(
            extra: Mapping[Hashable, float | None],
        ) -> tuple[Sequence[Candidate], float] | None:
            rows = [
                [one for one in row if extra.get(one.family, 0.0) is not None] for row in candidates
            ]
            if not all(rows):
                return None
            return (self._free_wide if wide else self._free)(rows, extra)

        return cheapest_free(ways, lambda one: one.family, places, self._price, below)

    def _free(
        self, candidates: Sequence[Sequence[Candidate]], extra: Mapping[Hashable, float | None]
    ) -> tuple[Sequence[Candidate], float]:
        """The cheapest way round and its cost, where each use of a family costs `extra`."""
        change = self.costs.change
        return cheapest_cycle(
            [candidates[symbol] for symbol in self.order],
            lambda index, one: one.cost + (extra.get(one.family) or 0.0),
            lambda here, there: change(here.shape, there.shape),
        )

    def _learning_costs(self, candidates: Sequence[Sequence[Candidate]]) -> LearningCosts:
        """The costs that learning adds to these candidates."""
        return LearningCosts.of(self._families(candidates), self._price)

    def _families(self, candidates: Sequence[Sequence[Candidate]]) -> list[list[Grip | None]]:
        return [[one.family for one in row] for row in candidates]

    @property
    def _price(self) -> float:
        return self.costs.weights.learning

    def forget(self) -> None:
        """Drop all tables of the candidates so far."""
        self._tables.clear()
        self._arrays.clear()
        self._rows.clear()
        self._kept.clear()

    def _own_costs(self, candidates: Sequence[Sequence[Candidate]]) -> list[list[float]]:
        """The cost of each candidate of each symbol in the whole tune, without changes."""
        return [
            [self.times[symbol] * one.cost for one in row] for symbol, row in enumerate(candidates)
        ]

    def _arrays_of_pairs(
        self, candidates: Sequence[Sequence[Candidate]]
    ) -> dict[tuple[int, int], Floats]:
        """The costs of all changes between two symbols, for each pair of `_edges`."""
        return {
            (v, w): self._both_ways(v, w, candidates[v], candidates[w]) for v, w in self._edges()
        }

    def _edges(self) -> list[tuple[int, int]]:
        """The pairs of symbols between which there are changes, the lower number first."""
        return [
            (v, w) for v, w in sorted({(min(pair), max(pair)) for pair in self.changes}) if v != w
        ]

    def _pairs(self, candidates: Sequence[Sequence[Candidate]]) -> int:
        """The most pairs of candidates of any two symbols with a change between them."""
        sizes = [len(row) for row in candidates]
        return max((sizes[v] * sizes[w] for v, w in self._edges()), default=0)

    def _many(self, candidates: Sequence[Sequence[Candidate]]) -> bool:
        """Whether there are so many candidates that it pays to narrow them with arrays."""
        return self._pairs(candidates) > WIDE or sum(map(len, candidates)) > MANY

    def _narrowed(
        self, candidates: Sequence[Sequence[Candidate]], below: float
    ) -> list[list[Candidate]] | None:
        import numpy as np

        own = [np.array(row) for row in self._own_costs(candidates)]
        pairs = self._arrays_of_pairs(candidates)
        worth = worth_learning(own, pairs, self._families(candidates), self._price)
        candidates = [[row[a] for a in some] for row, some in zip(candidates, worth, strict=True)]
        own = [row[some] for row, some in zip(own, worth, strict=True)]
        pairs = {(v, w): t[np.ix_(worth[v], worth[w])] for (v, w), t in pairs.items()}
        learning = self._learning_costs(candidates)
        own = [row + np.array(more) for row, more in zip(own, learning.own, strict=True)]
        own += [np.array(row) for row in learning.rows]
        pairs |= {key: np.array(table) for key, table in learning.tables().items()}
        kept = narrow(own, pairs, below)
        if kept is None:
            return None
        return [[row[a] for a in some] for row, some in zip(candidates, kept, strict=False)]

    def _free_wide(
        self, candidates: Sequence[Sequence[Candidate]], extra: Mapping[Hashable, float | None]
    ) -> tuple[Sequence[Candidate], float]:
        """As `_free`, with arrays for very many candidates."""
        import numpy as np

        count = len(self.order)
        cut = min(range(count), key=lambda index: len(candidates[self.order[index]]))
        order = self.order[cut:] + self.order[:cut]
        costs = [
            np.array([one.cost + (extra.get(one.family) or 0.0) for one in row])
            for row in candidates
        ]
        tables = [
            self._array(candidates[v], candidates[w])
            for v, w in zip(order, order[1:] + order[:1], strict=True)
        ]
        way, cost = cheapest_cycle_wide([costs[symbol] for symbol in order], tables)
        way = way[count - cut :] + way[: count - cut]
        path = [candidates[symbol][one] for symbol, one in zip(self.order, way, strict=True)]
        return path, cost

    def _both_ways(
        self, v: int, w: int, mine: Sequence[Candidate], theirs: Sequence[Candidate]
    ) -> Floats:
        """The costs of all changes between two symbols, as an array."""
        onward, back = self.changes[v, w], self.changes[w, v]
        if not back:
            return onward * self._array(mine, theirs)
        again = back * self._array(theirs, mine).T
        return onward * self._array(mine, theirs) + again if onward else again

    def _array(self, here: Sequence[Candidate], there: Sequence[Candidate]) -> Floats:
        """The costs of all changes from one symbol's candidates to another's."""
        key = (id(here), id(there))
        if len(here) * len(there) > MOST_PAIRS:
            raise too_many_shapes(self.symbols[0].chord, self.costs.instrument)
        if key not in self._arrays:
            for row in (here, there):
                if id(row) not in self._rows:
                    self._kept.append(row)
                    shapes = [one.shape for one in row]
                    self._rows[id(row)] = ShapeRow(shapes, self.costs.instrument)
            rows = self._rows[id(here)], self._rows[id(there)]
            self._arrays[key] = self.costs.change_table(*rows)
        return self._arrays[key]

    def _table(
        self, v: int, w: int, mine: Sequence[Candidate], theirs: Sequence[Candidate]
    ) -> list[list[float]]:
        """The costs of all changes between two symbols, a row for each candidate of the first."""
        key = (v, w, id(mine), id(theirs))
        if key not in self._tables:
            self._kept += [mine, theirs]
            if len(mine) * len(theirs) > BULK:
                self._tables[key] = self._both_ways(v, w, mine, theirs).tolist()
                return self._tables[key]
            onward, back = self.changes[v, w], self.changes[w, v]
            change = self.costs.change
            self._tables[key] = [
                [
                    (onward * change(a.shape, b.shape) if onward else 0.0)
                    + (back * change(b.shape, a.shape) if back else 0.0)
                    for b in theirs
                ]
                for a in mine
            ]
        return self._tables[key]
