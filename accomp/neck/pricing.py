"""What shapes and changes cost for one player: weights, instrument and hand brought together.

Conventions: costs without unit; each is worked out once and remembered.
"""

from __future__ import annotations

from collections.abc import Sequence

from accomp.harmony import Chord
from accomp.neck.amounts import CHANGE_TERMS, SHAPE_TERMS, change_amounts, shape_amounts
from accomp.neck.costs import Costs, default_costs
from accomp.neck.hand import Hand
from accomp.neck.instrument import Instrument
from accomp.neck.shape import Shape

# So small that it decides only between equal costs: of two, the plan on the lower frets.
TIE = 1e-9


class Pricing:
    """Costs of shapes and changes on one instrument for one hand."""

    def __init__(
        self,
        instrument: Instrument,
        hand: Hand,
        costs: Costs | None = None,
        *,
        choked: bool = False,
    ) -> None:
        self.instrument = instrument
        self.hand = hand
        self.costs = costs or default_costs()
        self.choked = choked
        self._changes: dict[tuple[int, int], float] = {}
        self._kept: dict[int, Shape] = {}  # ids are keys only while their shapes live

    def shape(self, shape: Shape, chord: Chord, familiar: bool = True) -> float:
        """Cost of playing a shape once."""
        return _weigh(self._shape_amounts(shape, chord, familiar), self.costs.shape)

    def shape_terms(self, shape: Shape, chord: Chord, familiar: bool = True) -> dict[str, float]:
        """The same term by term, those that are not zero."""
        amounts = self._shape_amounts(shape, chord, familiar)
        return _by_name(SHAPE_TERMS, amounts, self.costs.shape)

    def change(self, here: Shape, there: Shape) -> float:
        """Cost of going from one shape to another; nothing when the hand stays as it is."""
        if here is there:
            return 0.0
        key = (id(here), id(there))
        cost = self._changes.get(key)
        if cost is None:
            self._kept[id(here)], self._kept[id(there)] = here, there
            cost = _weigh(change_amounts(here, there, self.instrument), self.costs.change)
            self._changes[key] = cost
        return cost

    def change_terms(self, here: Shape, there: Shape) -> dict[str, float]:
        """The same term by term, those that are not zero."""
        amounts = change_amounts(here, there, self.instrument)
        return _by_name(CHANGE_TERMS, amounts, self.costs.change)

    def _shape_amounts(self, shape: Shape, chord: Chord, familiar: bool) -> tuple[float, ...]:
        return shape_amounts(
            shape, chord, self.instrument, self.hand, familiar=familiar, choked=self.choked
        )


def tie_break(shape: Shape) -> float:
    """What is added for planning only, so that ties go to the lower frets."""
    return TIE * sum(shape.fretted)


def _weigh(amounts: Sequence[float], weights: Sequence[float]) -> float:
    return sum(map(float.__mul__, amounts, weights))


def _by_name(
    terms: Sequence[str], amounts: Sequence[float], weights: Sequence[float]
) -> dict[str, float]:
    return {
        term: amount * weight
        for term, amount, weight in zip(terms, amounts, weights, strict=True)
        if amount * weight
    }
