"""A plan: which shape is taken at each chord of a chorus, and what that costs.

Conventions: the chords of a chorus are a cycle: the last leads back to the first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from accomp.neck.derive import Known
from accomp.neck.shape import Shape


@dataclass(frozen=True)
class Plan:
    """The shapes for a sequence of chords.

    `path[i]` is the shape for the i-th chord of the sequence that was planned; `cost` the sum of
    all terms, `terms` that sum by name; `proved` whether no cheaper plan exists, `gap` by how much
    at most (a share of `cost`) one might be cheaper when not. `notices` are whole sentences.
    `known[i]` says how the i-th shape is made from the repertoire, None when the player does not
    know it. `fixed`: one shape a chord symbol.
    """

    name: str
    path: tuple[Shape, ...]
    cost: float
    terms: Mapping[str, float] = field(default_factory=dict)
    proved: bool = True
    gap: float = 0.0
    notices: tuple[str, ...] = ()
    known: tuple[Known | None, ...] = ()
    fixed: bool = True

    @property
    def frets(self) -> tuple[int, int]:
        """The lowest and the highest fret that any finger stops; (0, 0) when none does."""
        stopped = [fret for shape in self.path for fret in shape.fretted]
        return min(stopped, default=0), max(stopped, default=0)

    @property
    def open(self) -> bool:
        """Whether any shape has an open string, so that the whole cannot be slid or choked."""
        return any(shape.open for shape in self.path)

    @property
    def stretch_mm(self) -> float:
        """The greatest stretch of any shape."""
        return max((shape.stretch_mm for shape in self.path), default=0.0)
