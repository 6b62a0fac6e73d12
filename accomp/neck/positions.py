"""Positions: plans for a whole tune that stay in one area of the neck.

Conventions: a position is named by the degree that its home chord has on top ("third-top"); the
same an octave higher is called "third-top-high". A position whose home chord is closed is closed
throughout, one whose home chord has open strings may use them anywhere, unless `closed` says
otherwise (True: no open strings at all; False: open strings anywhere).
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from accomp.harmony import Chord
from accomp.neck.costs import Costs
from accomp.neck.derive import knowledge_of
from accomp.neck.hand import Hand
from accomp.neck.instrument import Instrument
from accomp.neck.missing import no_area, no_position, no_shape
from accomp.neck.naming import top_name
from accomp.neck.plan import Plan
from accomp.neck.pools import BY_FEWEST_MOVES, BY_TABLE, NOT_KNOWN, Area, Candidate, Pools, tops
from accomp.neck.pricing import Pricing
from accomp.neck.propose import repertoire_for
from accomp.neck.repertoire import Repertoire
from accomp.neck.tell import make_plan
from accomp.neck.tune_plan import Found, Round

Group = TypeVar("Group", bound=Hashable)

SPAN_FRETS = 3  # the index finger stays within so many frets of its lowest place


def positions(
    chords: Sequence[Chord],
    home: Chord,
    instrument: Instrument,
    hand: Hand,
    *,
    closed: bool | None = None,
    plan: str = "fixed",
    shapes: str = "known",
    repertoire: Repertoire | None = None,
    mute: bool = False,
    span_frets: int = SPAN_FRETS,
    costs: Costs | None = None,
    choked: bool = False,
) -> list[Plan]:
    """The best plan for each degree that the home chord can have on top, from the nut upward.

    `chords` are the chords of one time through, a cycle. `plan` is "fixed" (one shape a chord) or
    "free", `shapes` "known" (from the repertoire) or "all"; `choked` says that the style chokes.
    Raises `NoShapeError` when a chord has no shape on this instrument for this hand, or no area of
    the neck holds all chords; the message says what would help.
    """
    planner = _Planner(
        chords, home, instrument, hand, closed, plan, shapes, repertoire, mute, span_frets, costs,
        choked,
    )  # fmt: skip
    return planner.positions()


def plan_at(
    chords: Sequence[Chord],
    home: Chord,
    instrument: Instrument,
    hand: Hand,
    where: str | int | None = None,
    *,
    closed: bool | None = None,
    plan: str = "fixed",
    shapes: str = "known",
    repertoire: Repertoire | None = None,
    mute: bool = False,
    span_frets: int = SPAN_FRETS,
    costs: Costs | None = None,
    choked: bool = False,
) -> Plan:
    """One position: by name, by the lowest fret of the index finger, or (None) the cheapest.

    A plan asked for by fret is called "fret-5". Raises `NoShapeError` that says which positions
    there are when this one does not exist.
    """
    planner = _Planner(
        chords, home, instrument, hand, closed, plan, shapes, repertoire, mute, span_frets, costs,
        choked,
    )  # fmt: skip
    if isinstance(where, int):
        return planner.at_fret(where)
    if where is None:
        return planner.cheapest()
    plans = planner.positions()
    for one in plans:
        if one.name == where:
            return one
    raise no_position(where, home, instrument, [one.name for one in plans])


@dataclass(frozen=True)
class _Best:
    """The best way so far for one place of the home chord, and a bound below every way."""

    found: Found
    bound: float
    area: Area


class _Planner:
    """One tune on one instrument; see `positions` for the arguments."""

    def __init__(
        self,
        chords: Sequence[Chord],
        home: Chord,
        instrument: Instrument,
        hand: Hand,
        closed: bool | None,
        plan: str,
        shapes: str,
        repertoire: Repertoire | None,
        mute: bool,
        span_frets: int,
        costs: Costs | None,
        choked: bool,
    ) -> None:
        if home not in chords:
            raise ValueError(f"the home chord {home} is none of the chords to plan")
        if plan not in ("fixed", "free") or shapes not in ("known", "all"):
            raise ValueError(f"no such plan or shapes: {plan!r}, {shapes!r}")
        repertoire = repertoire_for(instrument, hand, repertoire)
        self.knowledge = knowledge_of(repertoire, instrument, hand, mute)
        self.pricing = Pricing(instrument, hand, costs, choked=choked)
        self.pools = Pools(self.knowledge, self.pricing, every=shapes == "all")
        self.round = Round(chords, self.pricing)
        self.home, self.closed, self.fixed = home, closed, plan == "fixed"
        self.span = max(0, span_frets)
        missing = [one for one in self.round.symbols if not self._some(one)]
        if missing:
            raise no_shape(missing, instrument, hand, mute=mute, closed=closed is True)

    def _some(self, chord: Chord) -> bool:
        """Whether the chord has any shape that may be taken at all."""
        neck = Area(1, self.pricing.instrument.frets, self.closed is True)
        return bool(self.pools.pool(chord, neck).candidates)

    def positions(self) -> list[Plan]:
        """Every position, from the nut upward."""
        groups = tops(self.pools.home(self.home))
        found = self._best(groups, self._areas)
        plans: list[Plan] = []
        taken: dict[str, int] = {}
        for key in groups:
            best = found.get(key)
            if best is None:
                continue
            name = f"{top_name(key[0])}-top"
            taken[name] = taken.get(name, 0) + 1
            plans.append(self._plan(name + _octave(taken[name]), best))
        if not plans:
            raise no_area(self.round.symbols, self.pools, self.span, self.closed)
        return sorted(plans, key=lambda plan: (plan.frets, plan.name))

    def cheapest(self) -> Plan:
        """The position with the most chords known, and of these the cheapest."""
        return min(self.positions(), key=lambda plan: (self._unknown(plan), plan.cost))

    def _unknown(self, plan: Plan) -> int:
        """How many shapes of a plan the player does not know, where he wants known ones."""
        if self.pools.every:
            return 0
        pairs = zip(plan.path, plan.known, strict=True)
        return len({shape.frets for shape, known in pairs if known is None})

    def at_fret(self, fret: int) -> Plan:
        """The best plan whose area begins at a fret."""
        low = max(1, fret)
        areas = [Area(low, low + self.span, shut) for shut in (False, True)]
        areas = [area for area in areas if self._suits(area)]
        homes = {"": tuple(self.pools.home(self.home))}
        best = self._best(homes, lambda _: areas).get("")
        if best is None:
            names = [plan.name for plan in self.positions()]
            raise no_position(fret, self.home, self.pricing.instrument, names)
        return self._plan(f"fret-{fret}", best)

    def _areas(self, homes: Iterable[Candidate]) -> list[Area]:
        """All areas in which one of these home shapes can be taken, from the nut upward."""
        places = {max(1, one.shape.lowest_fret) for one in homes}
        lows = sorted({low for place in places for low in range(place - self.span, place + 1)})
        areas = [
            Area(low, low + self.span, shut) for low in lows if low >= 1 for shut in (False, True)
        ]
        return [area for area in areas if self._suits(area)]

    def _suits(self, area: Area) -> bool:
        return self.closed is None or self.closed == area.closed

    def _best(
        self,
        groups: Mapping[Group, Sequence[Candidate]],
        areas_of: Callable[[Sequence[Candidate]], list[Area]],
    ) -> dict[Group, _Best]:
        """For each group of home shapes the way with the fewest chords that are not known.

        Of these the cheapest. Groups without any way are left out.
        """
        tasks: dict[Area, list[tuple[Group, list[Sequence[Candidate]], float]]] = {}
        for group, homes in groups.items():
            for area, candidates in self._fewest_unknown(homes, areas_of(homes)):
                least = self.round.least(candidates)
                tasks.setdefault(area, []).append((group, candidates, least))
        best: dict[Group, _Best] = {}
        plan = self.round.fixed if self.fixed else self.round.free
        order = sorted(tasks, key=lambda area: min(least for _, _, least in tasks[area]))
        for area in order:
            for group, candidates, least in tasks[area]:
                before = best.get(group)
                below = before.found.cost if before else float("inf")
                if least >= below:
                    continue
                found = plan(candidates, below)
                if found is None:
                    continue
                bound = min(found.bound, before.bound) if before else found.bound
                if found.path:
                    best[group] = _Best(found, min(bound, found.cost), area)
                elif before:
                    best[group] = _Best(before.found, bound, before.area)
            self.round.forget()
        return best

    def _fewest_unknown(
        self, homes: Sequence[Candidate], areas: Iterable[Area]
    ) -> list[tuple[Area, list[Sequence[Candidate]]]]:
        """The areas that hold every chord, with the fewest chords that are not known.

        Of these those with the fewest chords that the table of moves does not make there.
        """
        areas = list(areas)
        by_table = [(area, self._candidates(homes, area, BY_TABLE)) for area in areas]
        whole = [(area, candidates) for area, candidates in by_table if candidates is not None]
        if whole:
            return whole
        found = []
        for area in areas:
            candidates = self._candidates(homes, area, NOT_KNOWN)
            if candidates is not None:
                steps = [self.pools.pool(one, area).step for one in self.round.symbols]
                unknown = steps.count(NOT_KNOWN), steps.count(BY_FEWEST_MOVES)
                found.append((unknown, area, candidates))
        fewest = min((unknown for unknown, _, _ in found), default=(0, 0))
        return [(area, candidates) for unknown, area, candidates in found if unknown == fewest]

    def _candidates(
        self, homes: Sequence[Candidate], area: Area, most: int
    ) -> list[Sequence[Candidate]] | None:
        """The candidates of every symbol in an area, the home chord's narrowed to `homes`.

        Candidates are looked for as far as the step `most`.

        Without a wish for open or closed, the area's kind has to be that of the home shape.
        None when a chord has none.
        """
        rows: list[Sequence[Candidate]] = []
        for symbol in self.round.symbols:
            pool = self.pools.pool(symbol, area, most).candidates
            if symbol == self.home:
                pool = tuple(
                    one
                    for one in pool
                    if one in homes and (self.closed is not None or one.shape.open != area.closed)
                )
            if not pool:
                return None
            rows.append(pool)
        return rows

    def _plan(self, name: str, best: _Best) -> Plan:
        steps = {chord: self.pools.pool(chord, best.area).step for chord in self.round.symbols}
        fallen = [chord for chord, step in steps.items() if step == NOT_KNOWN]
        gap = max(0.0, best.found.cost - best.bound)
        return make_plan(
            name, self.round.chords, best.found.path, self.pricing, fallen, gap, fixed=self.fixed
        )


def _octave(number: int) -> str:
    """The ending of a position's name: nothing, "-high", "-high-2" ..."""
    return "" if number == 1 else "-high" if number == 2 else f"-high-{number - 1}"
