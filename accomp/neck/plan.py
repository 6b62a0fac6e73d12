"""A plan: which shape is taken at each chord of a chorus, and what that costs.

Conventions: the chords of a chorus are a cycle: the last leads back to the first. Notices are whole
sentences for the player.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from accomp.files.text import counted, word_list
from accomp.harmony import Chord
from accomp.neck.cost import CostModel
from accomp.neck.hand import Hand
from accomp.neck.pools import Candidate
from accomp.neck.shape import Grip, Shape
from accomp.neck.vocabulary import KnownShape
from accomp.neck.weights import Term
from accomp.outward import Pictured

# How a notice of a wide plan ends where the other positions of the tune were not planned.
NOT_COMPARED = "Other positions of the tune may be comfortable throughout."


@dataclass(frozen=True)
class Plan(Pictured):
    """The shapes for a sequence of chords: a position.

    `path[i]` is the shape for `chords[i]`. `cost` is the sum of all `terms`. `proved`: no cheaper
    plan exists; otherwise one may be cheaper by `gap` at most, a share of `cost` (0 to 1).
    `known[i]` says how the i-th shape is made from the repertoire, None when the player does not
    know it. `new` are the families that they have to learn, as grips in order of first use; their
    price is among the `terms` as "learning". `wide[i]`: the i-th shape is beyond the hand's
    comfort, because its chord has no comfortable one there. `one_shape`: one shape a chord symbol.
    """

    name: str
    path: tuple[Shape, ...]
    cost: float
    terms: Mapping[Term, float] = field(default_factory=dict)
    proved: bool = True
    gap: float = 0.0
    notices: tuple[str, ...] = ()
    known: tuple[KnownShape | None, ...] = ()
    new: tuple[Grip, ...] = ()
    wide: tuple[bool, ...] = ()
    one_shape: bool = True
    chords: tuple[Chord, ...] = ()

    def __repr__(self) -> str:
        low, high = self.frets
        shapes = counted(len(set(self.path)), "shape")
        return f"<Plan {self.name!r}: frets {low} to {high}, {shapes}, cost {self.cost:.1f}>"

    @property
    def facts(self) -> str:
        """One line: name, frets, open strings, widest stretch, cost."""
        low, high = self.frets
        kind = "open strings" if self.open else "closed"
        return (
            f"{self.name}: frets {low} to {high}, {kind}, widest stretch {self.stretch_mm:.0f} mm, "
            f"cost {self.cost:.1f}"
        )

    @property
    def boxes(self) -> tuple[tuple[Chord, Shape], ...]:
        """Each chord with each of its shapes, in order of first use."""
        return tuple(dict.fromkeys(zip(self.chords, self.path, strict=True)))

    @property
    def frets(self) -> tuple[int, int]:
        """The lowest and the highest fret that any finger stops; (0, 0) when none does."""
        stopped = [fret for shape in self.path for fret in shape.fretted]
        return min(stopped, default=0), max(stopped, default=0)

    @property
    def open(self) -> bool:
        """Whether any shape has an open string, so that the whole cannot be slid or choked."""
        return any(shape.open for shape in self.path)

    @property
    def stretch_mm(self) -> float:
        """The greatest stretch of any shape."""
        return max((shape.stretch_mm for shape in self.path), default=0.0)


@dataclass(frozen=True)
class FoundPath:
    """A way through the tune that the search has found: a candidate for each of the `chords`.

    `gap` is how much cheaper another way could be at most, in cost.
    """

    chords: tuple[Chord, ...]
    path: tuple[Candidate, ...]
    one_shape: bool
    gap: float = 0.0


def make_plan(name: str, way: FoundPath, costs: CostModel, unknown: Sequence[Chord]) -> Plan:
    """The plan of a way; the vocabulary has nothing comfortable there for the `unknown` chords."""
    shapes = tuple(one.shape for one in way.path)
    terms: Counter[Term] = Counter()
    for index, (chord, one) in enumerate(zip(way.chords, way.path, strict=True)):
        terms.update(costs.shape_terms(one.shape, chord))
        there = shapes[(index + 1) % len(shapes)]
        if there is not one.shape:
            terms.update(costs.change_terms(one.shape, there))
    new = tuple(dict.fromkeys(one.family for one in way.path if one.family is not None))
    if new and costs.weights.learning:
        terms.update({"learning": costs.weights.learning * len(new)})
    cost = sum(terms.values())
    share = min(1.0, way.gap / cost) if cost > 0 else 0.0
    proved = share < 1e-9  # what rounding leaves
    notices = []
    if unknown:
        taken = _together(
            (chord, shape)
            for chord, shape in zip(way.chords, shapes, strict=True)
            if chord in unknown
        )
        notices.append(
            f"{name}: nothing comfortable of the vocabulary lies in this area for "
            f"{word_list([its for _, its in taken])}; of all playable shapes the plan takes "
            f"{word_list([frets for frets, _ in taken])}."
        )
    if not proved:
        notices.append(
            f"{name}: the search stopped before the proof; another plan could be at most "
            f"{share:.1%} cheaper."
        )
    return Plan(
        name=name,
        path=shapes,
        cost=cost,
        terms=dict(terms),
        proved=proved,
        gap=0.0 if proved else share,
        notices=tuple(notices),
        known=tuple(one.known for one in way.path),
        new=new,
        wide=tuple(one.wide for one in way.path),
        one_shape=way.one_shape,
        chords=way.chords,
    )


def with_stretches(plans: Sequence[Plan], hand: Hand, *, among: bool = True) -> list[Plan]:
    """The plans; those with wide shapes get a notice that says which, and how wide.

    When the plans are all positions of the tune (`among`), it names the comfortable ones, too.
    """
    comfortable = [plan.name for plan in plans if not any(plan.wide)]
    said = []
    for plan in plans:
        wide = {
            str(shape): shape.stretch_mm
            for shape, is_wide in zip(plan.path, plan.wide, strict=True)
            if is_wide
        }
        if not wide:
            said.append(plan)
            continue
        where = (
            f"Comfortable throughout: {word_list(comfortable)}."
            if comfortable
            else "No position of the tune is comfortable throughout."
        )
        if not among:
            where = NOT_COMPARED
        each = [
            f"{its} {frets} is {_over(wide[frets], hand.comfort_mm)} mm wide"
            for frets, its in _together(plan.boxes)
            if frets in wide
        ]
        notice = (
            f"{plan.name}: {word_list(each)}, beyond the {hand.comfort_mm:g} mm that are "
            f"comfortable; this area has no other. {where}"
        )
        said.append(replace(plan, notices=(*plan.notices, notice)))
    return said


def _together(pairs: Iterable[tuple[Chord, Shape]]) -> list[tuple[str, str]]:
    """Each shape once, as its frets and all the chords that have it."""
    found: dict[str, list[str]] = {}
    for chord, shape in dict.fromkeys(pairs):
        found.setdefault(str(shape), []).append(str(chord))
    return [(frets, word_list(its)) for frets, its in found.items()]


def _over(length_mm: float, comfort_mm: float) -> str:
    """A length that exceeds the comfortable one, in whole mm, and does so when rounded, too."""
    whole = round(length_mm)
    return str(whole if whole > comfort_mm else math.ceil(length_mm))
