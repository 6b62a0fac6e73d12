"""The terms of the cost model and the weight of each, from a data file that a user can replace.

Conventions: a weight is what one piece or unit of its term costs. The units are listed in
data/costs.toml, in the same order as the terms here.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal, get_args

from accomp.files import data, values
from accomp.files.homes import data_folder
from accomp.files.table import Table

ShapeTerm = Literal[
    "stretch", "strain", "fingers", "barre", "across", "height", "rootless", "another",
    "fifthless", "doubled", "inverted", "crossed", "mud", "ringing", "stopped", "bass",
]  # fmt: skip
ChangeTerm = Literal["shift", "put_down", "lifted", "slid", "top", "voices", "line"]
TuneTerm = Literal["learning"]
Term = ShapeTerm | ChangeTerm | TuneTerm
SHAPE_TERMS: tuple[ShapeTerm, ...] = get_args(ShapeTerm)
CHANGE_TERMS: tuple[ChangeTerm, ...] = get_args(ChangeTerm)
TUNE_TERMS: tuple[TuneTerm, ...] = get_args(TuneTerm)
_TERMS: tuple[Term, ...] = SHAPE_TERMS + CHANGE_TERMS + TUNE_TERMS

_NAME = "costs.toml"
_WEIGHT = values.number(0, 1e6)


@dataclass(frozen=True)
class Weights:
    """The cost of one piece of each term, in the order of `SHAPE_TERMS` and so on."""

    shape: tuple[float, ...]
    change: tuple[float, ...]
    tune: tuple[float, ...]

    @classmethod
    def of(cls, by_name: Mapping[Term, float]) -> Weights:
        """Weights from those of all terms by name."""
        return cls(
            tuple(by_name[term] for term in SHAPE_TERMS),
            tuple(by_name[term] for term in CHANGE_TERMS),
            tuple(by_name[term] for term in TUNE_TERMS),
        )

    @property
    def learning(self) -> float:
        """The price of one family that the player does not know yet."""
        return self.tune[0]

    def by_name(self) -> dict[Term, float]:
        """All weights by name."""
        return dict(zip(_TERMS, self.shape + self.change + self.tune, strict=True))

    def changed(self, by_name: Mapping[Term, float]) -> Weights:
        """These weights with some replaced by name."""
        return Weights.of(self.by_name() | dict(by_name))


@lru_cache(maxsize=1)
def default_weights() -> Weights:
    """The user's own weights, `costs.toml` in their folder, else those of the package."""
    own = data_folder() / _NAME
    return read_weights(own if os.path.isfile(own) else data.package_file(_NAME))


def read_weights(path: Path) -> Weights:
    """Read a cost file; a term it leaves out keeps the package's weight.

    Raises `InputError` with every problem in it.
    """
    top = Table.of(path)
    weights: dict[Term, float] = {}
    parts: tuple[tuple[str, tuple[Term, ...]], ...] = (
        ("shape", SHAPE_TERMS), ("change", CHANGE_TERMS), ("tune", TUNE_TERMS)
    )  # fmt: skip
    for name, terms in parts:
        table = top.table(name)
        if table is not None:
            given = {term: table.get(term, _WEIGHT, None) for term in terms}
            weights |= {term: weight for term, weight in given.items() if weight is not None}
    top.check()
    if len(weights) < len(_TERMS):
        weights = read_weights(data.package_file(_NAME)).by_name() | weights
    return Weights.of(weights)
