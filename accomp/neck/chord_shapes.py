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
            f"{chord}: no shape can be made from the repertoire. Every playable shape is shown "
            f"where only known ones are not asked for.",
            helps=("known",),
        )
    if not rows:
        raise no_shape([chord], player, closed=closed)
    cost = player.cost_model().shape
    rows.sort(key=lambda row: (cost(row[0], chord, row[1] is not None), sum(row[0].fretted)))
    return ChordShapes(chord, tuple(rows[:best]), len(rows))
