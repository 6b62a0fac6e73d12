"""The cost model: a weight for each named term, from a data file that a user can replace.

Conventions: the cost of a shape or change is the sum of amount x weight over its terms (amounts
and units: `accomp.neck.amounts`). Costs have no unit; only their order matters.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from accomp.files import data, values
from accomp.files.table import Table
from accomp.neck.amounts import CHANGE_TERMS, SHAPE_TERMS

_NAME = "costs.toml"
_WEIGHT = values.number(0, 1e6)


@dataclass(frozen=True)
class Costs:
    """Weights in the order of `SHAPE_TERMS` and `CHANGE_TERMS`."""

    shape: tuple[float, ...]
    change: tuple[float, ...]

    def weights(self) -> dict[str, float]:
        """All weights by name."""
        return dict(zip(SHAPE_TERMS + CHANGE_TERMS, self.shape + self.change, strict=True))

    def with_weights(self, weights: Mapping[str, float]) -> Costs:
        """The same model with some weights replaced by name."""
        known = self.weights() | dict(weights)
        return Costs(
            tuple(known[term] for term in SHAPE_TERMS), tuple(known[term] for term in CHANGE_TERMS)
        )


@lru_cache(maxsize=1)
def default_costs() -> Costs:
    """The user's own weights, `costs.toml` in their folder, else those of the package."""
    own = data.user_folder() / _NAME
    return read_costs(own if own.is_file() else data.package_file(_NAME))


def read_costs(path: Path) -> Costs:
    """Read a cost file; a term it leaves out keeps the package's weight.

    Raises `InputError` with every problem in it.
    """
    top = Table.of(path)
    weights: dict[str, float] = {}
    for name, terms in (("shape", SHAPE_TERMS), ("change", CHANGE_TERMS)):
        table = top.table(name)
        if table is not None:
            given = {term: table.get(term, _WEIGHT, None) for term in terms}
            weights |= {term: weight for term, weight in given.items() if weight is not None}
    top.check()
    if len(weights) < len(SHAPE_TERMS + CHANGE_TERMS):
        weights = read_costs(data.package_file(_NAME)).weights() | weights
    return Costs(
        tuple(weights[term] for term in SHAPE_TERMS), tuple(weights[term] for term in CHANGE_TERMS)
    )
