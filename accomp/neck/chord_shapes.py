"""The shapes of one chord for one player, best first.

Conventions: shapes are in the order of what playing them once costs; of equals the lower on the
neck comes first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import overload

from accomp.errors import NoShapeError
from accomp.files.text import counted
from accomp.harmony import Chord
from accomp.neck.fingering import Frets
from accomp.neck.inversions import inversions
from accomp.neck.missing import no_shape
from accomp.neck.player import EVERY, INVERSIONS, Player, VocabularyName
from accomp.neck.shape import Shape
from accomp.neck.vocabulary import KnownShape
from accomp.outward import Pictured


@dataclass(frozen=True, repr=False)
class ChordShapes(Sequence[Shape], Pictured):
    """Shapes of one chord, each with how it is made (None: the player does not know it).

    `of` is how many there are in all.
    """

    chord: Chord
    shapes: tuple[tuple[Shape, KnownShape | None], ...]
    of: int

    @overload
    def __getitem__(self, at: int) -> Shape: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[Shape, ...]: ...
    def __getitem__(self, at: int | slice) -> Shape | tuple[Shape, ...]:
        """The shape at an index, or the shapes of a slice."""
        return tuple(shape for shape, _ in self.shapes)[at]

    def __len__(self) -> int:
        return len(self.shapes)

    def __repr__(self) -> str:
        listed = ", ".join(map(str, self[:3])) + (", ..." if len(self) > 3 else "")
        return f"<{len(self)} of {counted(self.of, 'shape')} of {self.chord}: {listed}>"


def chord_shapes(
    player: Player,
    chord: Chord,
    *,
    closed: bool = False,
    vocabulary: VocabularyName = EVERY,
    best: int | None = None,
) -> ChordShapes:
    """The shapes of a chord, best first; a shape that is not known yet costs its learning, too.

    `closed` leaves out shapes with open strings, `vocabulary` what lies outside it; `best` is the
    most to give. Raises `NoShapeError` when there are none.
    """
    made = {one.shape.frets: one for one in player.vocabulary.shapes(chord)}
    inverted = set[Frets]()
    if vocabulary == INVERSIONS:
        inverted = {one.frets for one in inversions(chord, player.instrument, player.hand)}
    playable = player.playable(chord)
    rows = [
        (shape, made.get(shape.frets))
        for shape in playable
        if not (closed and shape.open)
        and (vocabulary == EVERY or shape.frets in made or shape.frets in inverted)
    ]
    if not rows and vocabulary != EVERY and playable:
        raise NoShapeError(
            f"{chord}: no shape can be made from the repertoire. Every playable shape is shown "
            f"where only known ones are not asked for.",
            helps=("known", "vocabulary"),
        )
    if not rows:
        raise no_shape([chord], player, closed=closed)
    costs = player.cost_model()
    learning = costs.weights.learning
    rows.sort(
        key=lambda row: (
            costs.shape(row[0], chord) + (0.0 if row[1] and not row[1].new else learning),
            sum(row[0].fretted),
        )
    )
    return ChordShapes(chord, tuple(rows[:best]), len(rows))
