"""The lesson: what there is to learn in a tune's positions, and in what order, as a value.

Conventions: families are counted by `family_mark`: same frets relative to each other, whatever the
chords they are taken for; an open string counts as fret 0 of them. A family is *met before* when
an earlier position of the lesson has it. Changes are ordered by their cost, dearest first: the cost
of a change is what the planner pays for the hand to go from one shape to the other.

The *hardest changes* of a position are its dearest between two different chords. To and fro is one
change, as dear as its dearer way and named by that, since a drill plays both ways; another shape of
the same chord is none, since a drill goes from one chord name to another.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from accomp.files.text import counted
from accomp.files.values import short
from accomp.harmony import Chord, Key
from accomp.neck.cost import CostModel, shift_mm
from accomp.neck.fingers import FingerMove, finger_moves, held_strings
from accomp.neck.learn_next import NextFamily
from accomp.neck.naming import numeral, spoken
from accomp.neck.plan import Plan
from accomp.neck.shape import Grip, Shape
from accomp.neck.vocabulary import KnownShape
from accomp.outward import Shown

DRILLS = 3  # how many changes are called the hardest: common practice, no source

Mark = Grip


@dataclass(frozen=True)
class ShapeLesson:
    """A shape to learn: for which chord, how made (None: not from the repertoire), how often.

    `met` lists where the player has met its family before: (position, chord) pairs.
    """

    chord: Chord
    shape: Shape
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
    terms: dict[str, float]
    shift_mm: float
    held: tuple[int, ...]
    fingers: tuple[FingerMove, ...]
    places: tuple[int, ...]

    def words(self, strings: int) -> str:
        """What the hand and its fingers do, in clauses, for an instrument of so many strings."""
        moves = [move.words(strings) for move in self.fingers] or ["no finger is needed"]
        if self.shift_mm:
            way = "up" if self.shift_mm > 0 else "down"
            moves.insert(0, f"the hand moves {abs(self.shift_mm):.0f} mm {way} the neck")
        return "; ".join(moves)


@dataclass(frozen=True)
class PositionLesson:
    """All there is to say about one position.

    `families` are the names of the families the plan needs, in order of first use; `met` and `new`
    share them out by whether an earlier position of the lesson has them. `learn_next` is what one
    more family would buy, where that was asked.
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
    """What the positions `plans` of one tune, in this order, teach.

    `advice` says what to learn next for a plan.
    """
    symbols = tuple(dict.fromkeys(chords))
    names = tuple((chord, numeral(chord, key), spoken(chord, key)) for chord in symbols)
    met: dict[Mark, list[tuple[str, str]]] = {}
    taught = []
    for plan in plans:
        one = _position(plan, chords, costs, met)
        taught.append(one if advice is None else replace(one, learn_next=advice(plan)))
        for chord, shape in dict.fromkeys(zip(chords, plan.path, strict=True)):
            met.setdefault(family_mark(shape), []).append((plan.name, str(chord)))
    return Lesson(names, tuple(taught))


def family_mark(shape: Shape) -> Mark:
    """What all shapes of one family share: frets relative to each other."""
    return shape.grip


def family_names(plan: Plan, chords: Sequence[Chord]) -> dict[Mark, str]:
    """The families of a plan in order of first use."""
    return _named(zip(chords, plan.path, _known(plan), strict=True))


def recycled(lesson: Lesson) -> list[tuple[str, list[tuple[Chord, str]]]]:
    """The families that come back over all positions: name, and (chord, position) pairs."""
    users: dict[Mark, list[tuple[Chord, str]]] = {}
    for position in lesson.positions:
        for one in position.shapes:
            users.setdefault(family_mark(one.shape), []).append((one.chord, position.plan.name))
    names = _named(
        (one.chord, one.shape, one.known)
        for position in lesson.positions
        for one in position.shapes
        if len(users[family_mark(one.shape)]) > 1
    )
    return [(name, users[mark]) for mark, name in names.items()]


def _named(uses: Iterable[tuple[Chord, Shape, KnownShape | None]]) -> dict[Mark, str]:
    """Families in order of first use, each by the name it is first met under.

    Where two have one name (a shape changed on one string or on another), each has its first chord
    beside it.
    """
    first: dict[Mark, tuple[Chord, Shape, KnownShape | None]] = {}
    for use in uses:
        first.setdefault(family_mark(use[1]), use)
    used = Counter(known.family for _, _, known in first.values() if known is not None)
    names = {}
    for mark, (chord, shape, known) in first.items():
        example = f"{chord} {shape}"
        if known is None:
            names[mark] = example
        else:
            names[mark] = f"{known.family} as {example}" if used[known.family] > 1 else known.family
    return names


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
    """The few changes to drill first, of those of one plan with the dearest first."""
    found: dict[frozenset[tuple[Chord, Shape]], ChangeLesson] = {}
    for one in changes:
        if one.from_chord != one.to_chord:
            ends = (one.from_chord, one.from_shape), (one.to_chord, one.to_shape)
            found.setdefault(frozenset(ends), one)
    return tuple(found.values())[:DRILLS]


def _known(plan: Plan) -> tuple[KnownShape | None, ...]:
    return plan.known or (None,) * len(plan.path)


def _position(
    plan: Plan,
    chords: Sequence[Chord],
    costs: CostModel,
    met: dict[Mark, list[tuple[str, str]]],
) -> PositionLesson:
    times: dict[tuple[Chord, Shape], int] = {}
    known_by: dict[tuple[Chord, Shape], KnownShape | None] = {}
    for chord, shape, known in zip(chords, plan.path, _known(plan), strict=True):
        times[chord, shape] = times.get((chord, shape), 0) + 1
        known_by[chord, shape] = known
    shapes = tuple(
        ShapeLesson(
            chord, shape, known_by[chord, shape], count, tuple(met.get(family_mark(shape), ()))
        )
        for (chord, shape), count in times.items()
    )
    names = family_names(plan, chords)
    return PositionLesson(
        plan=plan,
        shapes=shapes,
        changes=changes(plan, chords, costs),
        families=tuple(names.values()),
        met=tuple(name for mark, name in names.items() if mark in met),
        new=tuple(name for mark, name in names.items() if mark not in met),
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
