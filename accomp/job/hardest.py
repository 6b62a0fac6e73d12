"""Which changes of a plan are the hardest, for drills.

Conventions: a change is priced by the neck's cost model; to and fro is one change, since a drill
plays both ways.
"""

from __future__ import annotations

from accomp.job.asked import Asked
from accomp.job.versions import Version
from accomp.neck.lesson import ChangeLesson, changes


def hardest_changes(version: Version, asked: Asked, count: int) -> tuple[ChangeLesson, ...]:
    """The `count` hardest changes of the first chorus, hardest first; earlier ones of equals."""
    found: dict[frozenset[str], ChangeLesson] = {}
    for change in changes(version.plans[0], version.chords.chords, asked.player.cost_model()):
        if change.from_chord != change.to_chord:
            pair = frozenset(
                f"{chord} {shape}"
                for chord, shape in (
                    (change.from_chord, change.from_shape),
                    (change.to_chord, change.to_shape),
                )
            )
            found.setdefault(pair, change)
    return tuple(found.values())[:count]
