"""The cost model: a weight for each named term, from a data file that a user can replace.

Conventions: the cost of a shape or change is the sum of amount x weight over its terms (amounts
and units: `accomp.neck.amounts`). Costs have no unit; only their order matters.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from accomp.errors import InputError, Problem
from accomp.files import data
from accomp.files.toml import Document, read_toml, unknown_keys
from accomp.neck.amounts import CHANGE_TERMS, SHAPE_TERMS

_NAME = "costs.toml"
_MOST_WEIGHT = 1e6


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
    """The user's own weights, `costs.toml` in his folder, else those of the package."""
    own = data.user_folder() / _NAME
    return read_costs(own if own.is_file() else data.package_file(_NAME))


def read_costs(path: Path) -> Costs:
    """Read a cost file; a term it leaves out keeps the package's weight.

    Raises `InputError` with every problem in it.
    """
    document = read_toml(path)
    problems = unknown_keys(document, (), ("shape", "change"))
    weights: dict[str, float] = {}
    for table, terms in (("shape", SHAPE_TERMS), ("change", CHANGE_TERMS)):
        entries = document.data.get(table)
        if entries is None:
            continue
        if not isinstance(entries, dict):
            problems.append(
                document.problem(f"{table!r} is not a table of weights.", table, expected="a table")
            )
            continue
        problems += unknown_keys(document, (table,), terms)
        for term in terms:
            if term in entries:
                weights[term] = _weight(document, table, term, problems)
    if problems:
        raise InputError(sorted(problems, key=lambda one: (one.line, one.column)))
    missing = [term for term in SHAPE_TERMS + CHANGE_TERMS if term not in weights]
    if missing:
        weights = read_costs(data.package_file(_NAME)).weights() | weights
    return Costs(
        tuple(weights[term] for term in SHAPE_TERMS), tuple(weights[term] for term in CHANGE_TERMS)
    )


def _weight(document: Document, table: str, term: str, problems: list[Problem]) -> float:
    value = document.data[table][term]
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if number and 0 <= value <= _MOST_WEIGHT:
        return float(value)
    expected = f"a number from 0 to {_MOST_WEIGHT:g}"
    problems.append(
        document.problem(
            f"{term} = {value!r} is not a weight: expected {expected}.",
            table,
            term,
            found=str(value),
            expected=expected,
        )
    )
    return 0.0
