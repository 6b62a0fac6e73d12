"""Reading the weights of the cost model, from a data file that a user can replace."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from accomp.files import data, values
from accomp.files.table import Table
from accomp.neck.cost import CHANGE_TERMS, SHAPE_TERMS, TUNE_TERMS, Weights

_NAME = "costs.toml"
_WEIGHT = values.number(0, 1e6)


@lru_cache(maxsize=1)
def default_weights() -> Weights:
    """The user's own weights, `costs.toml` in their folder, else those of the package."""
    own = data.user_folder() / _NAME
    return read_weights(own if own.is_file() else data.package_file(_NAME))


def read_weights(path: Path) -> Weights:
    """Read a cost file; a term it leaves out keeps the package's weight.

    Raises `InputError` with every problem in it.
    """
    top = Table.of(path)
    weights: dict[str, float] = {}
    for name, terms in (("shape", SHAPE_TERMS), ("change", CHANGE_TERMS), ("tune", TUNE_TERMS)):
        table = top.table(name)
        if table is not None:
            given = {term: table.get(term, _WEIGHT, None) for term in terms}
            weights |= {term: weight for term, weight in given.items() if weight is not None}
    top.check()
    if len(weights) < len(SHAPE_TERMS + CHANGE_TERMS + TUNE_TERMS):
        weights = read_weights(data.package_file(_NAME)).by_name() | weights
    return Weights.of(weights)
