"""The cost of learning a plan: paid once for each new family, however often it is played.

Conventions: a family is known by its grip, so that the same frets under two names are learnt once.
`families[v][a]` is the new family of candidate `a` of symbol `v`, None where nothing is to be
learnt.

A family that several symbols may use becomes a symbol of its own in the problem of
`accomp.neck.fixed`, with two candidates: not learnt, for nothing, and learnt, for the price of
learning. A candidate of the family costs that price again beside "not learnt". A choice that uses
the family, once or often, then pays exactly once, and the search proves its plan as it does without
learning: its bound moves the price between the family and the symbols that cannot do without it. A
family that only one symbol may use simply makes that symbol's candidate dearer.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from accomp.neck.cost import Floats

Families = Sequence[Sequence[Hashable | None]]


@dataclass(frozen=True)
class LearningCosts:
    """The costs that learning adds: to each candidate, and one symbol for each shared family.

    `shared` are the families that several symbols may use, each as (symbol, which of its
    candidates belong to the family) of every user.
    """

    price: float
    own: tuple[tuple[float, ...], ...]
    shared: tuple[tuple[tuple[int, tuple[bool, ...]], ...], ...]

    @classmethod
    def of(cls, families: Families, price: float) -> LearningCosts:
        """The costs for these candidates, where one new family costs `price`."""
        users: dict[Hashable, list[int]] = {}
        for symbol, row in enumerate(families):
            for family in dict.fromkeys(one for one in row if one is not None):
                users.setdefault(family, []).append(symbol)
        alone = {family for family, symbols in users.items() if len(symbols) == 1}
        own = tuple(tuple(price if family in alone else 0.0 for family in row) for row in families)
        shared = tuple(
            tuple((v, tuple(one == family for one in families[v])) for v in symbols)
            for family, symbols in users.items()
            if len(symbols) > 1 and price > 0
        )
        return cls(price, own, shared)

    @property
    def rows(self) -> list[list[float]]:
        """Own costs of the added symbols: not learnt, learnt."""
        return [[0.0, self.price] for _ in self.shared]

    def tables(self) -> dict[tuple[int, int], list[list[float]]]:
        """Pairs of each symbol with each shared family that it may use."""
        count = len(self.own)
        return {
            (v, count + number): [[self.price if uses else 0.0, 0.0] for uses in members]
            for number, users in enumerate(self.shared)
            for v, members in users
        }


def worth_learning(
    own: Sequence[Floats],
    pairs: Mapping[tuple[int, int], Floats],
    families: Families,
    price: float,
) -> list[list[int]]:
    """For each symbol the candidates that remain without families that cannot save their price.

    What a candidate saves at most against those that need no learning, whatever the other symbols
    take, follows from its own cost and, in each pair, the candidate beside which it saves most.
    When a family saves no more than its price in all symbols together, some cheapest choice does
    without it.
    """
    import numpy as np

    free = [[a for a, family in enumerate(row) if family is None] for row in families]
    saved: dict[Hashable, float] = {}
    for v, row in enumerate(families):
        best: dict[Hashable, float] = {}
        if free[v]:
            dearer = own[v][free[v]][:, None] - own[v][None, :]
            for (one, other), table in pairs.items():
                if v in (one, other):
                    mine = table if v == one else table.T
                    dearer = dearer + (mine[free[v]][:, None, :] - mine[None, :, :]).max(axis=2)
            gains = dearer.min(axis=0)
        else:
            gains = np.full(len(row), np.inf)
        for a, family in enumerate(row):
            if family is not None:
                best[family] = max(best.get(family, 0.0), float(gains[a]))
        for family, gain in best.items():
            saved[family] = saved.get(family, 0.0) + gain
    return [
        [a for a, family in enumerate(row) if family is None or saved[family] > price]
        for row in families
    ]
