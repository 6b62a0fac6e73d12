"""The search for positions: in each area of the neck the cheapest way through the whole tune.

Conventions: without a wish for open or closed, an area's kind is that of the home chord's shape: a
closed home shape has only closed shapes beside it, one with open strings may have both. In a folk
tune of two or three triads, which is not choked, open strings ring on from chord to chord: there
every shape may have them, whatever the home chord has.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from accomp.harmony import Chord
from accomp.neck.chord_cycle import Bounds, ChordCycle
from accomp.neck.free import BoundedWay
from accomp.neck.missing import no_area, no_shape, no_wished_shape
from accomp.neck.naming import degree_name
from accomp.neck.plan import FoundPath, Plan, make_plan, with_stretches
from accomp.neck.player import Player, Wish
from accomp.neck.pools import (
    BY_FEWEST_MOVES,
    BY_TABLE,
    NOT_KNOWN,
    Area,
    Candidate,
    Pools,
    Slot,
    tops,
)
from accomp.neck.shape import Grip, Shape

FOLK = (2, 3)  # so many different chords, common practice, no source
_FRET = "fret-"  # how plans are called that are asked for by fret

Group = TypeVar("Group", bound=Hashable)
CandidateRows = list[Sequence[Candidate]]  # of each symbol


@dataclass(frozen=True)
class _Best:
    """The best way so far for one place of the home chord, and a bound below every way."""

    found: BoundedWay[Candidate]
    bound: float
    area: Area


class Planner:
    """One tune on one player's neck with one wish.

    Raises `NoShapeError` when a chord has no shape at all, or no area holds all chords.
    """

    def __init__(self, player: Player, chords: Sequence[Chord], home: Chord, wish: Wish) -> None:
        self.rings = rings(chords, wish)
        costs = player.cost_model(choked=wish.choked, rings=self.rings)
        self.player = player
        self.pools = Pools(player, costs, chords, vocabulary=wish.vocabulary)
        self.chords = tuple(chords)
        pins, tops = dict(wish.pins), dict(wish.tops)
        slots = [Slot(one, tops.get(i), pins.get(one)) for i, one in enumerate(chords)]
        self.cycle = ChordCycle(slots, costs)
        homes = [slot for slot in self.cycle.symbols if slot.chord == home]
        self.home = min(homes, key=lambda slot: slot.top_pc is not None)
        self.wish, self.closed, self.span = wish, wish.closed, wish.span_frets
        missing = [one for one in self.cycle.symbols if not self._has_shape(one)]
        never = dict.fromkeys(one.chord for one in missing if not self._has_shape(Slot(one.chord)))
        if never:
            raise no_shape(tuple(never), player, closed=wish.closed is True)
        if missing:
            raise no_wished_shape(missing[0], player, closed=wish.closed is True)

    def _has_shape(self, slot: Slot) -> bool:
        """Whether the chord has any shape that may be taken at all."""
        neck = Area(1, self.player.instrument.frets, self.closed is True)
        return bool(self.pools.pool(slot, neck).candidates)

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
            name = f"{degree_name(key[0])}-top"
            taken[name] = taken.get(name, 0) + 1
            plans.append(self._plan(name + _octave(taken[name]), best))
        if not plans:
            raise no_area(self.cycle.symbols, self.pools, self.wish)
        plans.sort(key=lambda plan: (plan.frets, plan.name))
        return with_stretches(plans, self.player.hand)

    def at_fret(self, fret: int) -> Plan | None:
        """The best plan whose area begins at a fret, None without any."""
        name = f"{_FRET}{fret}"
        homes = {name: self.pools.home(self.home)}
        best = self._best(homes, lambda _: self._areas_from(fret)).get(name)
        if best is None:
            return None
        plan = self._plan(name, best)
        return with_stretches([plan], self.player.hand, among=False)[0]

    def again(self, plan: Plan, also: frozenset[Grip], below: float = float("inf")) -> Plan | None:
        """The position of a plan, planned with the families `also` known; None without a plan that
        costs less than `below`."""
        known, self.pools = self.pools, self.pools.knowing(also, self.chords)
        try:
            found = self._homes_and_areas(plan)
            if found is None:
                return None
            homes, areas = found
            best = self._best({plan.name: homes}, lambda _: areas, below).get(plan.name)
            return None if best is None else self._plan(plan.name, best)
        finally:
            self.pools = known

    def could_take(self, plan: Plan, chord: Chord, shape: Shape) -> bool:
        """Whether a shape of a chord lies where the position of a plan may be."""
        home = plan.path[self.cycle.slots.index(self.home)]
        same = chord == self.home.chord and home.top_pitch == shape.top_pitch
        found = self._homes_and_areas(plan)
        return same or (found is not None and any(area.holds(shape) for area in found[1]))

    def _homes_and_areas(self, plan: Plan) -> tuple[Sequence[Candidate], list[Area]] | None:
        """The home shapes of a plan's position, and the areas it may lie in."""
        homes = self.pools.home(self.home)
        if plan.name.startswith(_FRET):
            return homes, self._areas_from(int(plan.name.removeprefix(_FRET)))
        home = plan.path[self.cycle.slots.index(self.home)]
        of_top = tops(homes).get((home.top, home.top_pitch))
        return None if of_top is None else (of_top, self._areas(of_top))

    def _areas_from(self, fret: int) -> list[Area]:
        """The areas that begin at a fret."""
        low = max(1, fret)
        areas = [Area(low, low + self.span, shut) for shut in (False, True)]
        return [area for area in areas if self._suits(area)]

    def _areas(self, homes: Iterable[Candidate]) -> list[Area]:
        """All areas in which one of these home shapes can be taken, from the nut upward."""
        frets = {max(1, one.shape.lowest_fret) for one in homes}
        lows = sorted({low for fret in frets for low in range(fret - self.span, fret + 1)})
        areas = [
            Area(low, low + self.span, shut) for low in lows if low >= 1 for shut in (False, True)
        ]
        return [area for area in areas if self._suits(area)]

    def _suits(self, area: Area) -> bool:
        if self.rings:
            return not area.closed
        return self.closed is None or self.closed == area.closed

    def _best(
        self,
        groups: Mapping[Group, Sequence[Candidate]],
        areas_of: Callable[[Sequence[Candidate]], list[Area]],
        below: float = float("inf"),
    ) -> dict[Group, _Best]:
        """For each group of home shapes the way with the fewest wide shapes.

        Of these the one with the fewest chords that are not known, then the cheapest. Groups
        without any way that costs less than `below` are left out.
        """
        tasks: dict[Area, list[tuple[Group, CandidateRows, float]]] = {}
        for group, homes in groups.items():
            for area, candidates in self._best_areas(homes, areas_of(homes)):
                least = self.cycle.least(candidates)
                tasks.setdefault(area, []).append((group, candidates, least))
        best: dict[Group, _Best] = {}
        least_way = self.cycle.fixed if self.wish.one_shape else self.cycle.free
        order = sorted(tasks, key=lambda area: min(least for _, _, least in tasks[area]))
        for area in order:
            bounds = self._bounds([candidates for _, candidates, _ in tasks[area]])
            for group, candidates, least in tasks[area]:
                before = best.get(group)
                most = before.found.cost if before else below
                if least >= most:
                    continue
                worth = bounds.worth(candidates, most) if bounds else candidates
                found = None if worth is None else least_way(worth, most)
                if found is None:
                    continue
                bound = min(found.bound, before.bound) if before else found.bound
                if found.path:
                    best[group] = _Best(found, min(bound, found.cost), area)
                elif before:
                    best[group] = _Best(before.found, bound, before.area)
            self.cycle.forget()
        return best

    def _bounds(self, tasks: Sequence[CandidateRows]) -> Bounds | None:
        """Lower bounds for all searches in one area, which differ in the home shapes only; None
        where they do not pay. With very many candidates most ways cannot be the best."""
        if not self.wish.one_shape:
            return None
        home = self.cycle.symbols.index(self.home)
        rows = list(tasks[0])
        rows[home] = tuple(dict.fromkeys(one for row in tasks for one in row[home]))
        return self.cycle.bounds(rows)

    def _best_areas(
        self, homes: Sequence[Candidate], areas: Iterable[Area]
    ) -> list[tuple[Area, CandidateRows]]:
        """The areas that hold every chord, with the fewest wide shapes.

        Whether a chord has only wide shapes in an area does not depend on the other chords, so that
        areas are compared before they are planned. Of these areas those with the fewest unknown
        chords are kept, then those with the fewest chords that only the fewest moves make.
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
                pools = [self.pools.pool(one, area) for one in self.cycle.symbols]
                steps = [pool.step for pool in pools]
                wide = sum(all(one.wide for one in row) for row in candidates)
                hard = wide, steps.count(NOT_KNOWN), steps.count(BY_FEWEST_MOVES)
                found.append((hard, area, candidates))
        least = min((hard for hard, _, _ in found), default=(0, 0, 0))
        return [(area, candidates) for hard, area, candidates in found if hard == least]

    def _candidates(
        self, homes: Sequence[Candidate], area: Area, most: int
    ) -> CandidateRows | None:
        """The candidates of every symbol in an area, None when one has none.

        Those of the home chord are among `homes` and, without a wish for open or closed, of the
        area's kind. `most` is the last step in which candidates are looked for.
        """
        free = self.closed is not None or self.rings
        rows: CandidateRows = []
        for symbol in self.cycle.symbols:
            pool = self.pools.pool(symbol, area, most).candidates
            if symbol == self.home:
                pool = tuple(
                    one for one in pool if one in homes and (free or one.shape.open != area.closed)
                )
            if not pool:
                return None
            rows.append(pool)
        return rows

    def _plan(self, name: str, best: _Best) -> Plan:
        steps = {slot: self.pools.pool(slot, best.area).step for slot in self.cycle.symbols}
        unknown = [slot.chord for slot, step in steps.items() if step == NOT_KNOWN]
        gap = max(0.0, best.found.cost - best.bound)
        way = FoundPath(self.chords, best.found.path, self.wish.one_shape, gap)
        return make_plan(name, way, self.pools.costs, unknown)


def rings(chords: Iterable[Chord], wish: Wish) -> bool:
    """Whether open strings are to ring on: a folk tune of few chords in a style without chokes."""
    symbols = set(chords)
    triads = all({"3", "b3"} & chord.degrees and len(chord.degrees) == 3 for chord in symbols)
    return triads and len(symbols) in FOLK and not wish.choked and wish.closed is None


def _octave(number: int) -> str:
    """The ending of a position's name: nothing, "-high", "-high-2" ..."""
    return "" if number == 1 else "-high" if number == 2 else f"-high-{number - 1}"
