"""Families worth learning next: a position is planned again as if one more were known.

Conventions: a family is a grip that has to be learnt and that the plan does not take. The saving is
exact: the same position, over all its areas, is planned with that family known and everything else
as before. A shape that the plan has already is not named again. Distances are told in frets, as
players count them. Changes are those of one chorus, from its first chord to its last, each time the
hand has to change; the way back to the first chord, which a plan's cost includes, is not one. Where
the hand travels no less, the greatest saving is told: what the fingers do, how the chords sound,
how their tones lead on, or another family that need not be learnt.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise

from accomp.files.text import frets_text, word_list
from accomp.harmony import Chord
from accomp.neck.cost import shift_frets, shift_mm
from accomp.neck.fingering import Frets
from accomp.neck.inversions import inversions
from accomp.neck.naming import frets_word
from accomp.neck.plan import Plan
from accomp.neck.planner import Planner
from accomp.neck.player import EVERY, Player, Wish
from accomp.neck.shape import Grip, Shape
from accomp.neck.weights import Term

MOST = 3  # so many are told of: common practice, no source
# Each trial is a plan of its own. Of more families, or where all shapes may be taken, only those
# are tried that a plan with all of them known takes.
MOST_TRIED = 100
GAINS: dict[str, tuple[Term, ...]] = {
    "the fingers have less to do": (
        "stretch", "strain", "fingers", "barre", "across", "crossed", "stopped", "put_down",
        "lifted", "slid",
    ),
    "the hand lies better": ("shift", "height"),
    "the chords sound fuller": (
        "rootless", "another", "fifthless", "doubled", "inverted", "mud", "ringing", "bass",
    ),
    "the tones lead on more smoothly": ("top", "voices", "line"),
    "another new grip is not needed": ("learning",),
}  # fmt: skip
_NOTHING = 1e-6
_ROUNDING = 1e-4  # more than all tie breaks of a plan


@dataclass(frozen=True)
class NextFamily:
    """A family worth learning: its shapes in the plan with it, and what that plan saves.

    In `changes` of the `of` changes of a chorus the hand travels fewer frets; in all it travels
    `frets` less, that is `shift_mm`. The plan is cheaper by `cost`, most of it by `gain`.
    """

    grip: Grip
    shapes: tuple[tuple[Chord, Shape], ...]
    cost: float
    frets: int
    shift_mm: float
    changes: int
    of: int
    gain: str

    @property
    def by_shape(self) -> tuple[tuple[Shape, tuple[Chord, ...]], ...]:
        """Its shapes, each once, with all the chords that have it."""
        found: dict[Frets, tuple[Shape, list[Chord]]] = {}
        for chord, shape in self.shapes:
            found.setdefault(shape.frets, (shape, []))[1].append(chord)
        return tuple((shape, tuple(chords)) for shape, chords in found.values())

    @property
    def words(self) -> str:
        """One sentence, with chords as they are typed."""
        return self.sentence(str)

    def sentence(self, say: Callable[[Chord], str]) -> str:
        """One sentence, with chords as the page writes them."""
        places = [
            f"{frets_text(shape.frets)} for {word_list([say(chord) for chord in chords])}"
            for shape, chords in self.by_shape
        ]
        where = word_list(places, ", and ")
        if self.frets < 1 or not self.changes:
            return f"Learn {where}, and {self.gain}."
        less = f"{frets_word(self.frets)} less, in {self.changes} of the {self.of} changes"
        return f"Learn {where}, and the hand travels {less}."


def learn_next(
    player: Player, chords: tuple[Chord, ...], home: Chord, wish: Wish, plan: Plan
) -> tuple[NextFamily, ...]:
    """The best few families to learn for one position, what saves most first."""
    planner = Planner(player, chords, home, wish)
    families = _families(planner, plan)
    below = plan.cost + _ROUNDING
    every = planner.again(plan, frozenset(families), below)
    if every is None or every.cost > plan.cost - _NOTHING:
        return ()  # not even all of them together would save anything
    if len(families) > MOST_TRIED or wish.vocabulary == EVERY:
        taken = {one.grip for one in every.path}
        families = tuple(grip for grip in families if grip in taken)
    found: list[NextFamily] = []
    for grip in families:
        better = planner.again(plan, frozenset({grip}), below)
        if better is None or better.cost > plan.cost - _NOTHING:
            continue
        more = _compared(grip, chords, plan, better, player)
        if not more.shapes:
            continue
        found.append(more)
        found.sort(key=lambda one: (-one.cost, frets_text(one.grip)))
        found = found[:MOST]
        if len(found) == MOST:
            below = plan.cost - found[-1].cost + _ROUNDING
    return tuple(found)


def _families(planner: Planner, plan: Plan) -> tuple[Grip, ...]:
    """The grips of all inversions that the position could take and that are to be learnt."""
    known = {*planner.pools.free, *plan.new}
    player = planner.player
    return tuple(
        dict.fromkeys(
            shape.grip
            for chord in dict.fromkeys(planner.chords)
            for shape in inversions(chord, player.instrument, player.hand)
            if shape.grip not in known and planner.could_take(plan, chord, shape)
        )
    )


def _compared(
    grip: Grip, chords: tuple[Chord, ...], before: Plan, after: Plan, player: Player
) -> NextFamily:
    pairs = dict.fromkeys(zip(chords, after.path, strict=True))
    on_page = {shape.frets for shape in before.path}
    shapes = tuple(
        (chord, shape)
        for chord, shape in pairs
        if shape.grip == grip and shape.frets not in on_page
    )
    frets = [_travelled(plan, shift_frets) for plan in (before, after)]
    lengths = [
        _travelled(plan, lambda here, there: shift_mm(here, there, player.instrument))
        for plan in (before, after)
    ]
    less = [old - new for old, new in zip(*frets, strict=True)]
    return NextFamily(
        grip=grip,
        shapes=shapes,
        cost=before.cost - after.cost,
        frets=int(sum(less)),
        shift_mm=sum(lengths[0]) - sum(lengths[1]),
        changes=sum(one > 0 for one in less),
        of=sum(here.frets != there.frets for here, there in pairwise(before.path)),
        gain=_gain(before.terms, after.terms),
    )


def _gain(before: Mapping[Term, float], after: Mapping[Term, float]) -> str:
    """The words of `GAINS` for what is saved most."""
    saved = {
        gain: sum(before.get(term, 0.0) - after.get(term, 0.0) for term in terms)
        for gain, terms in GAINS.items()
    }
    return max(saved, key=saved.__getitem__)


def _travelled(plan: Plan, shift: Callable[[Shape, Shape], float]) -> list[float]:
    """How far the hand moves to each chord of a chorus but its first."""
    return [abs(shift(here, there)) for here, there in pairwise(plan.path)]
