"""Which changes of a plan are the hardest, for drills.

Conventions: a change is priced by the neck's cost model; to and fro is one change, since a drill
plays both ways.
"""

from __future__ import annotations

from dataclasses import dataclass

from accomp.harmony import Chord
from accomp.job.asked import Asked
from accomp.job.versions import Version
from accomp.neck import Shape
from accomp.neck.pricing import Pricing


@dataclass(frozen=True)
class HardChange:
    """A change from one chord's shape to another's, and what it costs the hand."""

    here_chord: Chord
    here: Shape
    there_chord: Chord
    there: Shape
    cost: float


def hardest_changes(version: Version, asked: Asked, count: int) -> tuple[HardChange, ...]:
    """The `count` hardest changes of the first chorus, hardest first; earlier ones of equals."""
    pricing = Pricing(asked.instrument, asked.hand)
    chords, path = version.chords.chords, version.plans[0].path
    found: dict[frozenset[tuple[Chord, Shape]], HardChange] = {}
    for index, (chord, shape) in enumerate(zip(chords, path, strict=True)):
        following = (index + 1) % len(path)
        there_chord, there = chords[following], path[following]
        if str(chord) == str(there_chord) or shape.frets == there.frets:
            continue
        pair = frozenset([(chord, shape), (there_chord, there)])
        cost = max(pricing.change(shape, there), pricing.change(there, shape))
        found.setdefault(pair, HardChange(chord, shape, there_chord, there, cost))
    return tuple(sorted(found.values(), key=lambda change: -change.cost)[:count])
