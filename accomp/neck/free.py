"""The cheapest way round where a chord's shape may differ at each change, learning included.

Conventions: `Ways` finds exactly the cheapest way round when each use of a family costs something
extra (None: the family is forbidden). But learning a family costs its price once, however often it
is used, and no extra for each use can say that. So the search decides one family after another: it
opens it (paid once, then free) or shuts it (forbidden). While a family is undecided, each use costs
the price divided by the number of places that could use it. No way costs less than the sum found
so; when each undecided family in it has paid its whole price, the way is proved to be the cheapest.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

One = TypeVar("One")
Family = Hashable
# The cheapest way and its cost by what a use of each family costs; None when there is no way.
Ways = Callable[[Mapping[Family, float | None]], tuple[Sequence[One], float] | None]

MOST_NODES = 400  # a count and not a time, so that results do not depend on the machine
_SAME = 1e-9


@dataclass(frozen=True)
class BoundedWay(Generic[One]):
    """The way found, empty when none costs less than asked; nothing costs less than `bound`."""

    path: tuple[One, ...]
    cost: float
    bound: float


def cheapest_free(
    ways: Ways[One],
    family_of: Callable[[One], Family | None],
    places: Mapping[Family, int],
    price: float,
    below: float = float("inf"),
) -> BoundedWay[One] | None:
    """The cheapest way with learning; `places` says at how many places each family may be used.

    None when no way costs less than `below`. Exact unless more than `MOST_NODES` partial decisions
    had to be looked at.
    """
    path: tuple[One, ...] = ()
    cost = below
    queue: list[tuple[float, int, frozenset[Family], frozenset[Family]]]
    queue = [(0.0, 0, frozenset(), frozenset())]
    number = 0
    while queue:
        least, _, opened, shut = heapq.heappop(queue)
        if least >= cost - _SAME:
            break
        if number >= MOST_NODES:
            return BoundedWay(path, cost, least)
        extra: dict[Family, float | None] = {
            family: price / count for family, count in places.items()
        }
        extra |= dict.fromkeys(opened, 0.0) | dict.fromkeys(shut)
        found = ways(extra)
        if found is None:
            continue
        way, paid = found
        least = paid + price * len(opened)
        uses: dict[Family, int] = {}
        for one in way:
            family = family_of(one)
            if family is not None:
                uses[family] = uses.get(family, 0) + 1
        shares = {f: (extra[f] or 0.0) * count for f, count in uses.items()}
        whole = paid - sum(shares.values()) + price * len(uses)
        if whole < cost - _SAME:
            path, cost = tuple(way), whole
        lacking = {f: price - share for f, share in shares.items() if f not in opened}
        family = max(lacking, key=lambda f: (lacking[f], str(f)), default=None)
        if least >= cost - _SAME or family is None or lacking[family] <= _SAME:
            continue
        for more in ((opened | {family}, shut), (opened, shut | {family})):
            number += 1
            heapq.heappush(queue, (least, number, *more))
    return BoundedWay(path, cost, cost) if path else None
