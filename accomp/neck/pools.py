"""Which shapes may be taken for a chord in one area of the neck.

Conventions: an *area* is the range of frets in which the index finger (the lowest fretted fret)
stays; a shape with nothing fretted counts as standing at the first fret.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from accomp.harmony import Chord
from accomp.neck.cost import CostModel, tie_break
from accomp.neck.player import Player
from accomp.neck.shape import Shape
from accomp.neck.vocabulary import KnownShape

# Where the candidates for a chord come from, the better known first.
BY_TABLE, BY_FEWEST_MOVES, NOT_KNOWN = 0, 1, 2


@dataclass(frozen=True, eq=False, slots=True)
class Candidate:
    """A shape that may be taken for a chord, what it costs once, and how it is made if known."""

    shape: Shape
    known: KnownShape | None
    cost: float


@dataclass(frozen=True, slots=True)
class Area:
    """Frets `low` to `high` for the index finger; `closed`: no open strings."""

    low: int
    high: int
    closed: bool

    def holds(self, shape: Shape) -> bool:
        """Whether a shape may be taken here."""
        return self.low <= max(1, shape.lowest_fret) <= self.high and not (
            self.closed and shape.open
        )


@dataclass(frozen=True, eq=False, slots=True)
class Pool:
    """The candidates for a chord in an area, and where they come from: one of the steps above."""

    candidates: tuple[Candidate, ...]
    step: int = BY_TABLE


class Pools:
    """Candidates of every chord in every area, each worked out once.

    With `every`, every playable shape is a candidate. Otherwise known ones are: those that the
    table makes within the hand's comfort, else wide ones, else those made by the fewest moves, else
    (the player knows nothing here) every playable one.
    """

    def __init__(self, player: Player, costs: CostModel, *, every: bool) -> None:
        self.player = player
        self.vocabulary = player.vocabulary
        self.costs = costs
        self.every = every
        self._candidates: dict[Chord, tuple[Candidate, ...]] = {}
        self._known: dict[Chord, tuple[Candidate, ...]] = {}
        self._fewest: dict[Chord, tuple[Candidate, ...]] = {}
        self._by_table: dict[tuple[Chord, Area], Pool] = {}
        self._beyond: dict[tuple[Chord, Area], Pool] = {}

    def pool(self, chord: Chord, area: Area, most: int = NOT_KNOWN) -> Pool:
        """The candidates of a chord in an area, from the nut upward; there may be none.

        `most` is the last step that is gone to: the later ones take time to work out.
        """
        key = (chord, area)
        if key not in self._by_table:
            self._by_table[key] = self._choose_by_table(chord, area)
        if self._by_table[key].candidates or most == BY_TABLE:
            return self._by_table[key]
        if key not in self._beyond:
            self._beyond[key] = self._choose_beyond(chord, area)
        return self._beyond[key]

    def home(self, chord: Chord) -> tuple[Candidate, ...]:
        """The candidates of the home chord all along the neck: known ones where there are any."""
        if not self.every:
            known = self._of_known(chord)
            if known:
                return known
        return self._of_all(chord)

    def _choose_by_table(self, chord: Chord, area: Area) -> Pool:
        if self.every:
            return Pool(tuple(one for one in self._of_all(chord) if area.holds(one.shape)))
        known = [one for one in self._of_known(chord) if area.holds(one.shape)]
        comfortable = [one for one in known if one.known is not None and not one.known.wide]
        return Pool(tuple(comfortable or known))

    def _choose_beyond(self, chord: Chord, area: Area) -> Pool:
        if self.every:
            return Pool(())
        if chord not in self._fewest:
            self._fewest[chord] = tuple(
                self._candidate(chord, one.shape, one)
                for one in self.vocabulary.by_fewest_moves(chord)
            )
        some = tuple(one for one in self._fewest[chord] if area.holds(one.shape))
        if some:
            return Pool(some, BY_FEWEST_MOVES)
        some = tuple(one for one in self._of_all(chord) if area.holds(one.shape))
        return Pool(some, NOT_KNOWN if some else BY_TABLE)

    def _of_known(self, chord: Chord) -> tuple[Candidate, ...]:
        if chord not in self._known:
            shapes = self.vocabulary.shapes(chord)
            self._known[chord] = tuple(self._candidate(chord, one.shape, one) for one in shapes)
        return self._known[chord]

    def _of_all(self, chord: Chord) -> tuple[Candidate, ...]:
        if chord not in self._candidates:
            known = {one.shape.frets: one for one in self._of_known(chord)}
            self._candidates[chord] = tuple(
                known.get(shape.frets) or self._candidate(chord, shape, None)
                for shape in self.player.playable(chord)
            )
        return self._candidates[chord]

    def _candidate(self, chord: Chord, shape: Shape, known: KnownShape | None) -> Candidate:
        cost = self.costs.shape(shape, chord, known is not None) + tie_break(shape)
        return Candidate(shape, known, cost)


def tops(candidates: Sequence[Candidate]) -> dict[tuple[str, int], tuple[Candidate, ...]]:
    """Candidates by (degree on top, its pitch), lowest pitch first."""
    groups: dict[tuple[str, int], list[Candidate]] = {}
    for one in candidates:
        groups.setdefault((one.shape.top, one.shape.top_pitch), []).append(one)
    return {key: tuple(groups[key]) for key in sorted(groups, key=lambda key: key[1])}
