"""What one more family would buy: a position planned again with each inversion known besides.

Conventions: a family is a grip that has to be learnt and that the plan does not take. What it saves
is counted exactly: the same position, over all its areas, planned with that family known and
everything else as it was. Lengths are those of the whole chorus, round to its beginning.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from accomp.harmony import Chord
from accomp.neck.cost import shift_mm
from accomp.neck.inversions import inversions
from accomp.neck.naming import frets_text, join
from accomp.neck.plan import Plan
from accomp.neck.planner import Planner
from accomp.neck.player import EVERY, Player, Wish
from accomp.neck.shape import Grip, Shape

MOST = 3  # so many are told of: common practice, no source
# Of more families, or among all shapes, only those are tried that a plan with all of them known
# would take: each trial is a plan of its own.
MOST_TRIED = 100
_NOTHING = 1e-6


@dataclass(frozen=True)
class NextFamily:
    """A family worth learning: its shapes in the plan that would come of it, and what that saves.

    In `changes` of the `of` changes the hand travels less, `shift_mm` less in all of them together;
    `cost` is what the plan would be cheaper.
    """

    grip: Grip
    shapes: tuple[tuple[Chord, Shape], ...]
    cost: float
    shift_mm: float
    changes: int
    of: int

    @property
    def words(self) -> str:
        """One sentence."""
        where = join([f"{frets_text(shape.frets)} for {chord}" for chord, shape in self.shapes])
        if self.shift_mm < 1 or not self.changes:
            return f"Learn {where}, and the fingers have less to do."
        less = f"{self.shift_mm:.0f} mm less, in {self.changes} of {self.of} changes"
        return f"Learn {where}, and the hand travels {less}."


def learn_next(
    player: Player, chords: tuple[Chord, ...], home: Chord, wish: Wish, plan: Plan
) -> tuple[NextFamily, ...]:
    """The best few families to learn for one position, what saves most first."""
    planner = Planner(player, chords, home, wish)
    families = [
        grip for grip in _families(player, chords) if grip not in {*planner.pools.free, *plan.new}
    ]
    every = planner.again(plan, frozenset(families))
    if every is None or every.cost > plan.cost - _NOTHING:
        return ()  # not even all of them together would save anything
    if len(families) > MOST_TRIED or wish.vocabulary == EVERY:
        families = [grip for grip in families if any(one.grip == grip for one in every.path)]
    found = []
    for grip in families:
        better = planner.again(plan, frozenset({grip}))
        if better is None or better.cost > plan.cost - _NOTHING:
            continue
        found.append(_compared(grip, chords, plan, better, player))
    found.sort(key=lambda one: (-one.cost, frets_text(one.grip)))
    return tuple(found[:MOST])


def _families(player: Player, chords: Iterable[Chord]) -> tuple[Grip, ...]:
    """The grips of all inversions of the chords, in the order of the chords and the neck."""
    return tuple(
        dict.fromkeys(
            shape.grip
            for chord in dict.fromkeys(chords)
            for shape in inversions(chord, player.instrument, player.hand)
        )
    )


def _compared(
    grip: Grip, chords: tuple[Chord, ...], before: Plan, after: Plan, player: Player
) -> NextFamily:
    pairs = dict.fromkeys(zip(chords, after.path, strict=True))
    shapes = tuple((chord, shape) for chord, shape in pairs if shape.grip == grip)
    travels = [_travels(plan, player) for plan in (before, after)]
    less = [old - new for old, new in zip(*travels, strict=True)]
    return NextFamily(
        grip=grip,
        shapes=shapes,
        cost=before.cost - after.cost,
        shift_mm=sum(less),
        changes=sum(one > _NOTHING for one in less),
        of=len(chords),
    )


def _travels(plan: Plan, player: Player) -> list[float]:
    """How far the hand moves to each chord, in mm."""
    return [
        abs(shift_mm(plan.path[index - 1], shape, player.instrument))
        for index, shape in enumerate(plan.path)
    ]
