"""The cheapest plan for a tune in one area, fixed or free, from its candidates.

Conventions: a `Round` is the cycle of chords to be planned; its symbols are numbered in order of
first use. Costs count a shape once for each time it is played and a change once for each change.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from accomp.harmony import Chord
from accomp.neck.fixed import FixedProblem, cheapest_choice
from accomp.neck.planner import cheapest_cycle
from accomp.neck.pools import Candidate
from accomp.neck.pricing import Pricing


@dataclass(frozen=True)
class Found:
    """A way through the tune: a candidate a chord, its cost, and a bound below every way."""

    path: tuple[Candidate, ...]
    cost: float
    bound: float


class Round:
    """The chords of a tune, round and round, as a planning problem."""

    def __init__(self, chords: Sequence[Chord], pricing: Pricing) -> None:
        self.chords = tuple(chords)
        self.symbols = tuple(dict.fromkeys(chords))
        number = {chord: index for index, chord in enumerate(self.symbols)}
        self.order = [number[chord] for chord in chords]
        self.times = Counter(self.order)
        self.changes = Counter(zip(self.order, self.order[1:] + self.order[:1], strict=True))
        self.pricing = pricing
        self._tables: dict[tuple[int, int, int, int], list[list[float]]] = {}
        self._kept: list[Sequence[Candidate]] = []  # ids are keys only while their lists live

    def least(self, candidates: Sequence[Sequence[Candidate]]) -> float:
        """A quick bound: each symbol's cheapest candidate, changes for nothing."""
        return sum(
            times * min(one.cost for one in candidates[symbol])
            for symbol, times in self.times.items()
        )

    def fixed(
        self, candidates: Sequence[Sequence[Candidate]], below: float = float("inf")
    ) -> Found | None:
        """One candidate a symbol, the whole cheapest; None when nothing costs less than `below`.

        Where the search gives up before the proof, `bound` is less than `cost`; the path is empty
        when it has found nothing below `below` but cannot rule it out.
        """
        own = [
            [self.times[symbol] * one.cost for one in candidates[symbol]]
            for symbol in range(len(self.symbols))
        ]
        pairs = {
            (v, w): self._table(v, w, candidates[v], candidates[w])
            for v, w in sorted({(min(pair), max(pair)) for pair in self.changes})
            if v != w
        }
        choice = cheapest_choice(FixedProblem(own, pairs), below=below)
        if choice is None:
            return None
        if not choice.candidates:
            return Found((), below, choice.bound)
        path = tuple(candidates[symbol][choice.candidates[symbol]] for symbol in self.order)
        return Found(path, choice.cost, choice.bound)

    def free(
        self, candidates: Sequence[Sequence[Candidate]], below: float = float("inf")
    ) -> Found | None:
        """A candidate at each place, the whole cheapest; None when nothing costs less than `below`.

        Always exact.
        """
        change = self.pricing.change
        found = cheapest_cycle(
            [candidates[symbol] for symbol in self.order],
            lambda place, one: one.cost,
            lambda here, there: change(here.shape, there.shape),
        )
        if found is None or found[1] >= below:
            return None
        return Found(found[0], found[1], found[1])

    def _table(
        self, v: int, w: int, mine: Sequence[Candidate], theirs: Sequence[Candidate]
    ) -> list[list[float]]:
        """What all changes between two symbols cost, by their candidates."""
        key = (v, w, id(mine), id(theirs))
        if key not in self._tables:
            self._kept += [mine, theirs]
            onward, back = self.changes[v, w], self.changes[w, v]
            change = self.pricing.change
            self._tables[key] = [
                [
                    (onward * change(a.shape, b.shape) if onward else 0.0)
                    + (back * change(b.shape, a.shape) if back else 0.0)
                    for b in theirs
                ]
                for a in mine
            ]
        return self._tables[key]
