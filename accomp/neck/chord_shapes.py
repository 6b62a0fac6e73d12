"""The shapes of one chord for one player, best first.

Conventions: shapes are ranked by what they cost once; of equals the lower on the neck comes first.
"""

from __future__ import annotations

from dataclasses import dataclass

from accomp.errors import NoShapeError
from accomp.harmony import Chord
from accomp.neck.missing import no_shape
from accomp.neck.player import Player
from accomp.neck.shape import Shape
from accomp.neck.vocabulary import KnownShape


@dataclass(frozen=True)
class ChordShapes:
    """Shapes of one chord with how each is made when the player knows it; `of` there are in all."""

    chord: Chord
    shapes: tuple[tuple[Shape, KnownShape | None], ...]
    of: int


def chord_shapes(
    player: Player,
    chord: Chord,
    *,
    closed: bool = False,
    known: bool = False,
    best: int | None = None,
) -> ChordShapes:
    """The shapes of a chord, best first: only `closed` or `known` ones, and the `best` so many.

    Raises `NoShapeError` when there are none.
    """
    made = {one.shape.frets: one for one in player.vocabulary.shapes(chord)}
    playable = player.playable(chord)
    rows = [
        (shape, made.get(shape.frets))
        for shape in playable
        if not (closed and shape.open) and (shape.frets in made or not known)
    ]
    if not rows and known and playable:
        raise NoShapeError(
            f"{chord}: no shape can be made from the repertoire. Leave --known out to see "
            f"every playable shape."
        )
    if not rows:
        raise no_shape([chord], player, closed=closed)
    costs = player.cost_model()
    learning = costs.weights.learning
    rows.sort(
        key=lambda row: (
            costs.shape(row[0], chord) + (0.0 if row[1] else learning),
            sum(row[0].fretted),
        )
    )
    return ChordShapes(chord, tuple(rows[:best]), len(rows))
