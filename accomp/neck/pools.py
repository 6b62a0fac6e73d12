"""Which shapes may be taken for a chord in one area of the neck.

Conventions: an *area* is the range of frets in which the index finger (the lowest fretted fret)
stays; a shape with nothing fretted counts as standing at the first fret. A *slot* is a chord with
what is wished of its shape. Nothing has to be learnt for shapes that the table of moves makes from
the repertoire, nor for their grips under another name in the same tune; every other family is new.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from accomp.harmony import Chord
from accomp.neck.cost import CostModel, tie_break
from accomp.neck.fingering import Frets
from accomp.neck.inversions import inversions
from accomp.neck.player import EVERY, FIRST, Player, VocabularyName
from accomp.neck.search import heard_as
from accomp.neck.shape import Grip, Shape
from accomp.neck.vocabulary import KnownShape

# Where the candidates for a chord come from, the better known first.
BY_TABLE, BY_FEWEST_MOVES, NOT_KNOWN = 0, 1, 2
_IN_POSITION, _EXTENDED, _WIDE = 0, 1, 2
# One finger a fret: common practice, no source.
FRETS_IN_POSITION = 4


def low_fret_of(shape: Shape) -> int:
    """The fret at which the index finger stands, the first where nothing is fretted."""
    return max(1, shape.lowest_fret)


@dataclass(frozen=True, eq=False, slots=True)
class Candidate:
    """A shape that may be taken for a chord, what it costs once, and how it is made if known.

    `family` is the grip that has to be learnt for it, None when nothing has. `reach` is how far
    the hand has to go: 0 when each finger has its own fret, 1 when a shape lies over more frets
    than that, 2 when it is beyond the hand's comfort.
    """

    shape: Shape
    known: KnownShape | None
    cost: float
    family: Grip | None
    reach: int
    low_fret: int

    @property
    def wide(self) -> bool:
        """Whether the shape is beyond the hand's comfort."""
        return self.reach == _WIDE


@dataclass(frozen=True, slots=True)
class Slot:
    """A chord of the tune: with a pitch class wished on top, or with the very shape to be taken."""

    chord: Chord
    top_pc: int | None = None
    frets: Frets | None = None

    def suits(self, shape: Shape) -> bool:
        """Whether a shape is as wished."""
        return (self.top_pc is None or shape.top_pitch % 12 == self.top_pc) and (
            self.frets is None or shape.frets == self.frets
        )


@dataclass(frozen=True, slots=True)
class Area:
    """Frets `low` to `high` for the index finger; `closed`: no open strings."""

    low: int
    high: int
    closed: bool

    def holds(self, shape: Shape) -> bool:
        """Whether a shape may be taken here."""
        return self.low <= low_fret_of(shape) <= self.high and not (self.closed and shape.open)


@dataclass(frozen=True, eq=False, slots=True)
class Pool:
    """The candidates for a chord in an area, and where they come from: one of the steps above."""

    candidates: tuple[Candidate, ...]
    step: int = BY_TABLE


NOTHING = Pool(())


class Pools:
    """Candidates of every chord in every area, each worked out once.

    Comfort comes first: a wide shape is a candidate only where there is no comfortable one. Of the
    comfortable ones a shape over five frets or more is a candidate only where none has a fret for
    each finger. (On a neck so short that five frets are comfortable at the nut they are no
    extension. A rule in mm alone would let a higher key pull in other shapes as soon as they become
    comfortable there.) Until something comfortable is found, candidates are looked for in the
    vocabulary (the first shapes, these and the inversions, or every playable shape), then among
    shapes made by the fewest moves, then among all playable shapes. Inversions with one of the
    grips `also` count as known.
    """

    def __init__(
        self,
        player: Player,
        costs: CostModel,
        chords: Iterable[Chord],
        *,
        vocabulary: VocabularyName,
        also: frozenset[Grip] = frozenset(),
    ) -> None:
        self.player = player
        self.known = player.vocabulary
        self.costs = costs
        self.vocabulary = vocabulary
        self._vocabulary: dict[Chord, tuple[Candidate, ...]] = {}
        self._fewest: dict[Chord, tuple[Candidate, ...]] = {}
        self._all: dict[Chord, tuple[Candidate, ...]] = {}
        self._pools: dict[tuple[Slot, Area, bool], Pool] = {}
        self.also = also
        self.free = self.known.grips(dict.fromkeys(chords)) | also

    def knowing(self, also: frozenset[Grip], chords: Iterable[Chord]) -> Pools:
        """The pools when the families `also` are known, too."""
        pools = Pools(self.player, self.costs, chords, vocabulary=self.vocabulary, also=also)
        if self.vocabulary != FIRST:  # the shapes stay, only what has to be learnt changes
            for mine, theirs in ((self._vocabulary, pools._vocabulary), (self._all, pools._all)):
                theirs |= {
                    chord: tuple(
                        replace(one, family=None) if one.family in also else one for one in row
                    )
                    for chord, row in mine.items()
                }
        return pools

    def pool(self, slot: Slot, area: Area, most: int = NOT_KNOWN) -> Pool:
        """The candidates of a slot in an area, from the nut upward; there may be none.

        `most` is the last step to look in: the later ones take time. With `BY_TABLE` there are no
        candidates unless the vocabulary has a comfortable one.
        """
        key = (slot, area, most != BY_TABLE)
        if key not in self._pools:
            self._pools[key] = self._choose(slot, area, most)
        return self._pools[key]

    def home(self, slot: Slot) -> tuple[Candidate, ...]:
        """The candidates of the home chord all along the neck: those of the vocabulary, if any."""
        some = tuple(one for one in self._of_vocabulary(slot.chord) if slot.suits(one.shape))
        return some or tuple(one for one in self.of_all(slot.chord) if slot.suits(one.shape))

    def _choose(self, slot: Slot, area: Area, most: int) -> Pool:
        if slot.frets is not None:
            return self._pinned(slot, area)

        def here(candidates: Iterable[Candidate]) -> tuple[Candidate, ...]:
            return tuple(
                one
                for one in candidates
                if area.low <= one.low_fret <= area.high
                and area.holds(one.shape)
                and slot.suits(one.shape)
            )

        some = here(self._of_vocabulary(slot.chord))
        comfortable = _comfortable(some)
        if comfortable:
            return Pool(comfortable)
        if most == BY_TABLE:
            return NOTHING
        if self.vocabulary != EVERY:
            fewest = here(self._of_fewest(slot.chord))
            if fewest:
                return Pool(fewest, BY_FEWEST_MOVES)
            every = here(self.of_all(slot.chord))
            comfortable = _comfortable(every)
            if comfortable or not some:
                return Pool(comfortable or every, NOT_KNOWN if every else BY_TABLE)
        return Pool(some)

    def _pinned(self, slot: Slot, area: Area) -> Pool:
        """The one shape that is asked for, open or closed, where the area has room for it."""
        for one in self.of_all(slot.chord):
            if slot.suits(one.shape):
                return Pool((one,)) if area.low <= one.low_fret <= area.high else NOTHING
        return NOTHING

    def _of_vocabulary(self, chord: Chord) -> tuple[Candidate, ...]:
        if chord not in self._vocabulary:
            found = {
                one.shape.frets: self._candidate(chord, one.shape, one)
                for one in self.known.shapes(chord)
            }
            more: tuple[Shape, ...] = ()
            if self.vocabulary == EVERY:
                more = self._playable(chord)
            elif self.vocabulary != FIRST or self.also:
                more = inversions(chord, self.player.instrument, self.player.hand)
            if self.vocabulary == FIRST:
                more = tuple(shape for shape in more if shape.grip in self.also)
            for shape in more:
                if shape.frets not in found:
                    found[shape.frets] = self._candidate(chord, shape, None)
            order = sorted(found.values(), key=lambda one: (one.shape.lowest_fret, str(one.shape)))
            self._vocabulary[chord] = tuple(order)
        return self._vocabulary[chord]

    def _of_fewest(self, chord: Chord) -> tuple[Candidate, ...]:
        if chord not in self._fewest:
            self._fewest[chord] = tuple(
                self._candidate(chord, one.shape, one) for one in self.known.by_fewest_moves(chord)
            )
        return self._fewest[chord]

    def of_all(self, chord: Chord) -> tuple[Candidate, ...]:
        """Every playable shape of a chord that is heard as the chord."""
        if chord not in self._all:
            known = {one.shape.frets: one for one in self._of_vocabulary(chord)}
            self._all[chord] = tuple(
                known.get(shape.frets) or self._candidate(chord, shape, None)
                for shape in self._playable(chord)
            )
        return self._all[chord]

    def _playable(self, chord: Chord) -> tuple[Shape, ...]:
        return tuple(one for one in self.player.playable(chord) if heard_as(one, chord))

    def _candidate(self, chord: Chord, shape: Shape, known: KnownShape | None) -> Candidate:
        free = shape.grip in self.free or (known is not None and not known.new)
        cost = self.costs.shape(shape, chord) + tie_break(shape)
        family = None if free else shape.grip
        return Candidate(shape, known, cost, family, self._reach(shape), low_fret_of(shape))

    def _reach(self, shape: Shape) -> int:
        fret_mm, comfort = self.player.instrument.fret_mm, self.player.hand.comfort_mm
        if shape.stretch_mm > comfort:
            return _WIDE
        frets = shape.highest_fret - shape.lowest_fret
        at_the_nut = fret_mm(1 + frets) - fret_mm(1)
        return _EXTENDED if frets >= FRETS_IN_POSITION and at_the_nut > comfort else _IN_POSITION


def _comfortable(candidates: Sequence[Candidate]) -> tuple[Candidate, ...]:
    """The candidates of the least reach, none when all are wide."""
    least = min((one.reach for one in candidates), default=_WIDE)
    return () if least == _WIDE else tuple(one for one in candidates if one.reach == least)


def tops(candidates: Sequence[Candidate]) -> dict[tuple[str, int], tuple[Candidate, ...]]:
    """Candidates by (degree on top, its pitch), lowest pitch first."""
    groups: dict[tuple[str, int], list[Candidate]] = {}
    for one in candidates:
        groups.setdefault((one.shape.top, one.shape.top_pitch), []).append(one)
    return {key: tuple(groups[key]) for key in sorted(groups, key=lambda key: key[1])}
