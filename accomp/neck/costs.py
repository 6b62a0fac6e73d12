"""Reading the weights of the cost model, from a data file that a user can replace."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from accomp.errors import InputError, Problem
from accomp.files import data
from accomp.files.toml import Document, read_toml, unknown_keys
from accomp.neck.cost import CHANGE_TERMS, SHAPE_TERMS, Weights

_NAME = "costs.toml"
_MOST_WEIGHT = 1e6


@lru_cache(maxsize=1)
def default_weights() -> Weights:
    """The user's own weights, `costs.toml` in their folder, else those of the package."""
    own = data.user_folder() / _NAME
    return read_weights(own if own.is_file() else data.package_file(_NAME))


def read_weights(path: Path) -> Weights:
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
        weights = read_weights(data.package_file(_NAME)).by_name() | weights
    return Weights.of(weights)


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
