"""The lesson: what there is to learn in a tune's positions, and in what order, as a value.

Conventions: a family is a grip: same frets relative to each other, whatever the chords they are
taken for; an open string counts as fret 0 of them. Its name is the chord and the frets of its first
use in the lesson ("C 0 0 2 3"), never the degree on top, which names positions. A family is *met
before* when an earlier position of the lesson has it. Changes are ordered by their cost, dearest
first: the cost of a change is what the planner pays for the hand to go from one shape to the other.

The *hardest changes* of a position are its dearest between two different chords. To and fro is one
change with the cost and the names of the dearer way, since a drill plays both ways. The same
movement under other names (C to G7, C/E to G7) is one change, too. A change to another shape of the
same chord does not count, since a drill goes from one chord name to another.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from accomp.files.text import counted
from accomp.files.values import short
from accomp.harmony import Chord, Key
from accomp.neck.cost import CostModel, shift_frets, shift_mm
from accomp.neck.fingering import Frets
from accomp.neck.fingers import FingerMove, brief_moves, finger_moves, hand_words, held_strings
from accomp.neck.learn_next import NextFamily
from accomp.neck.naming import numeral, spoken
from accomp.neck.plan import Plan
from accomp.neck.shape import Grip, Shape
from accomp.neck.vocabulary import KnownShape
from accomp.neck.weights import Term
from accomp.outward import Shown

DRILLS = 3  # how many changes are called the hardest: common practice, no source


@dataclass(frozen=True)
class ShapeLesson:
    """A shape to learn.

    `known` says how it is made (None: not from the repertoire), `times` how often it is played;
    `met` lists where the player has met its family before: (position, chord) pairs.
    """

    chord: Chord
    shape: Shape
    family: str
    known: KnownShape | None
    times: int
    met: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class ChangeLesson:
    """A change of shapes: what it costs (once), what moves, and where in the tune it comes.

    `places` are indices of the chord that is changed to; `held` indices of the strings that sound
    on; `cost` and `terms` for one time.
    """

    from_chord: Chord
    to_chord: Chord
    from_shape: Shape
    to_shape: Shape
    cost: float
    terms: dict[Term, float]
    shift_mm: float
    held: tuple[int, ...]
    fingers: tuple[FingerMove, ...]
    places: tuple[int, ...]

    @property
    def shift_frets(self) -> int:
        """How many frets the hand goes toward the bridge; negative toward the nut."""
        return shift_frets(self.from_shape, self.to_shape)

    def words(self, strings: int) -> str:
        """The moves of hand and fingers, in clauses, for an instrument of so many strings."""
        moves = [move.words(strings) for move in self.fingers] or ["no finger is needed"]
        return "; ".join([hand_words(self.shift_frets), *moves] if self.shift_frets else moves)

    def brief(self, strings: int) -> str:
        """These moves in few words, to stand beside pictures of both shapes."""
        moves = brief_moves(self.fingers, self.shift_frets, strings)
        return "; ".join([hand_words(self.shift_frets), *moves])


@dataclass(frozen=True)
class PositionLesson:
    """The lesson of one position.

    `families` are the names of the families the plan needs, in order of first use; `met` and `new`
    tell which of them an earlier position of the lesson has. `learn_next` are families worth
    learning, where that was asked.
    """

    plan: Plan
    shapes: tuple[ShapeLesson, ...]
    changes: tuple[ChangeLesson, ...]
    families: tuple[str, ...]
    met: tuple[str, ...]
    new: tuple[str, ...]
    learn_next: tuple[NextFamily, ...] = ()

    @property
    def hardest(self) -> tuple[ChangeLesson, ...]:
        """The changes to drill first."""
        return hardest_changes(self.changes)


@dataclass(frozen=True)
class Lesson(Shown):
    """A tune's positions with the chords' names in the key: (chord, numeral, spoken)."""

    key: Key
    names: tuple[tuple[Chord, str, str], ...]
    positions: tuple[PositionLesson, ...]

    def __repr__(self) -> str:
        names = ", ".join(one.plan.name for one in self.positions)
        return f"<Lesson of {counted(len(self.names), 'chord')}: {short(names)}>"


def lesson(
    plans: Sequence[Plan],
    chords: Sequence[Chord],
    key: Key,
    costs: CostModel,
    *,
    advice: Callable[[Plan], tuple[NextFamily, ...]] | None = None,
) -> Lesson:
    """The lesson of the positions `plans` of one tune, in this order.

    `advice` says what to learn next for a plan.
    """
    symbols = tuple(dict.fromkeys(chords))
    names = tuple((chord, numeral(chord, key), spoken(chord, key)) for chord in symbols)
    families: dict[Grip, str] = {}
    met: dict[Grip, list[tuple[str, str]]] = {}
    taught = []
    for plan in plans:
        pairs = dict.fromkeys(zip(chords, plan.path, strict=True))
        for chord, shape in pairs:
            families.setdefault(shape.grip, f"{chord} {shape}")
        one = _position(plan, chords, costs, families, met)
        taught.append(one if advice is None else replace(one, learn_next=advice(plan)))
        for chord, shape in pairs:
            met.setdefault(shape.grip, []).append((plan.name, str(chord)))
    return Lesson(key, names, tuple(taught))


def recycled(lesson: Lesson) -> list[tuple[str, list[tuple[ShapeLesson, str]]]]:
    """The families that come back over all positions: name, and (shape, position) pairs."""
    users: dict[str, list[tuple[ShapeLesson, str]]] = {}
    for position in lesson.positions:
        for one in position.shapes:
            users.setdefault(one.family, []).append((one, position.plan.name))
    return [(family, where) for family, where in users.items() if len(where) > 1]


def changes(plan: Plan, chords: Sequence[Chord], costs: CostModel) -> tuple[ChangeLesson, ...]:
    """Each different change of a plan once, dearest first, then in order of first use."""
    places: dict[tuple[Chord, Chord, Shape, Shape], list[int]] = {}
    for index, shape in enumerate(plan.path):
        before = plan.path[index - 1]
        if before is not shape:
            key = (chords[index - 1], chords[index], before, shape)
            places.setdefault(key, []).append(index)
    found = [_change(*key, tuple(where), costs) for key, where in places.items()]
    return tuple(sorted(found, key=lambda change: (-change.cost, change.places)))


def hardest_changes(changes: Iterable[ChangeLesson]) -> tuple[ChangeLesson, ...]:
    """The few changes to drill first; `changes` are those of one plan, dearest first."""
    found: dict[frozenset[Frets], ChangeLesson] = {}
    for one in changes:
        if one.from_chord != one.to_chord:
            ends = one.from_shape.frets, one.to_shape.frets
            found.setdefault(frozenset(ends), one)
    return tuple(found.values())[:DRILLS]


def _known(plan: Plan) -> tuple[KnownShape | None, ...]:
    return plan.known or (None,) * len(plan.path)


def _position(
    plan: Plan,
    chords: Sequence[Chord],
    costs: CostModel,
    families: dict[Grip, str],
    met: dict[Grip, list[tuple[str, str]]],
) -> PositionLesson:
    times: dict[tuple[Chord, Shape], int] = {}
    known_by: dict[tuple[Chord, Shape], KnownShape | None] = {}
    for chord, shape, known in zip(chords, plan.path, _known(plan), strict=True):
        times[chord, shape] = times.get((chord, shape), 0) + 1
        known_by[chord, shape] = known
    shapes = tuple(
        ShapeLesson(
            chord=chord,
            shape=shape,
            family=families[shape.grip],
            known=known_by[chord, shape],
            times=count,
            met=tuple(met.get(shape.grip, ())),
        )
        for (chord, shape), count in times.items()
    )
    grips = dict.fromkeys(shape.grip for shape in plan.path)
    return PositionLesson(
        plan=plan,
        shapes=shapes,
        changes=changes(plan, chords, costs),
        families=tuple(families[grip] for grip in grips),
        met=tuple(families[grip] for grip in grips if grip in met),
        new=tuple(families[grip] for grip in grips if grip not in met),
    )


def _change(
    from_chord: Chord,
    to_chord: Chord,
    here: Shape,
    there: Shape,
    places: tuple[int, ...],
    costs: CostModel,
) -> ChangeLesson:
    return ChangeLesson(
        from_chord=from_chord,
        to_chord=to_chord,
        from_shape=here,
        to_shape=there,
        cost=costs.change(here, there),
        terms=costs.change_terms(here, there),
        shift_mm=shift_mm(here, there, costs.instrument),
        held=held_strings(here, there),
        fingers=finger_moves(here, there),
        places=places,
    )
