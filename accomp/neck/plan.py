"""A plan: which shape is taken at each chord of a chorus, and what that costs.

Conventions: the chords of a chorus are a cycle: the last leads back to the first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from accomp.neck.shape import Shape


@dataclass(frozen=True)
class Plan:
    """The shapes for a sequence of chords.

    `path[i]` is the shape for the i-th chord of the sequence that was planned; `cost` the sum of
    all terms, `terms` that sum by name; `proved` whether no cheaper plan exists, `gap` by how much
    at most (a share of `cost`) one might be cheaper when not. `notices` are whole sentences.
    """

    name: str
    path: tuple[Shape, ...]
    cost: float
    terms: Mapping[str, float] = field(default_factory=dict)
    proved: bool = True
    gap: float = 0.0
    notices: tuple[str, ...] = ()
