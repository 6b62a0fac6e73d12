"""Which positions a job makes, and the plan of each chorus.

Conventions: a version has one plan a chorus. A position asked for by option holds for every
chorus; otherwise a chorus of the tune file may name its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cached_property
from typing import Any

from accomp.errors import InputError, NoShapeError, Problem
from accomp.harmony import Chord
from accomp.job.asked import Asked
from accomp.job.options import Options
from accomp.neck import Hand, Instrument, Plan, plan_at, positions
from accomp.score.planning import TuneChords
from accomp.tune import Tune

# Common practice, no source: of positions that lie about equally well the lower one is learnt
# first. One counts as equal up to this many times the cost of the cheapest.
NEARLY = 1.35


def plans_for(tune: Tune, neck: Neck) -> Iterator[tuple[str, tuple[Plan, ...]]]:
    """(name, plan of each chorus) for every position asked for.

    Raises `NoShapeError` when a chord has no shape, or the tune no such position.
    """
    if neck.options.positions:
        for where in neck.options.positions:
            for plan in neck.every if where == "all" else (neck.at(where),):
                yield plan.name, (plan,) * neck.asked.choruses
        return
    plans = tuple(_of_chorus(tune, neck, chorus) for chorus in range(neck.asked.choruses))
    names = dict.fromkeys(plan.name for plan in plans)
    yield "+".join(names), plans


def _of_chorus(tune: Tune, neck: Neck, chorus: int) -> Plan:
    """The plan of a chorus: the position it names, else the best there is."""
    where = tune.choruses[chorus].position if chorus < len(tune.choruses) else None
    try:
        return neck.at(where)
    except NoShapeError as error:
        place = tune.places.get(f"chorus.{chorus}.position")
        if where is None or place is None:
            raise
        problem = Problem(str(error), tune.file, *place, found=where)
        raise InputError(problem) from None


class Neck:
    """The positions of one tune in one key, each planned once.

    Where none is asked for and a style chokes, one without open strings is chosen; one that was
    asked for by name keeps its open strings and says where they will ring on.
    """

    def __init__(self, chords: TuneChords, asked: Asked, options: Options) -> None:
        self.chords = chords
        self.asked = asked
        self.options = options
        self.chokes = asked.chokes
        self.made: dict[str | None, Plan] = {}

    @cached_property
    def every(self) -> tuple[Plan, ...]:
        """Every position there is, from the nut upward."""
        return tuple(
            self._noticed(plan) for plan in positions(*self._what(), **self._how(self.options))
        )

    def at(self, where: str | None) -> Plan:
        """The plan of a position by name or fret; for None the lowest of those that lie well."""
        if where not in self.made:
            self.made[where] = self._at(where)
        return self.made[where]

    def _at(self, where: str | None) -> Plan:
        if where is None:
            closed = [plan for plan in self.every if not plan.open]
            prefers = self.chokes and self.options.closed is None
            choice = closed if prefers and closed else self.every
            cheapest = min(plan.cost for plan in choice)
            near = [plan for plan in choice if plan.cost <= cheapest * NEARLY]
            return min(near, key=lambda plan: (plan.frets, plan.cost))
        if where.isdecimal():
            return self._noticed(plan_at(*self._what(), int(where), **self._how(self.options)))
        for plan in self.every:
            if plan.name == where:
                return plan
        return plan_at(*self._what(), where, **self._how(self.options))

    def _what(self) -> tuple[tuple[Chord, ...], Chord, Instrument, Hand]:
        return self.chords.chords, self.chords.home, self.asked.instrument, self.asked.hand

    def _how(self, options: Options) -> dict[str, Any]:
        return {
            "closed": options.closed,
            "plan": options.plan,
            "shapes": options.shapes,
            "repertoire": self.asked.repertoire,
            "costs": self.asked.costs,
            "mute": options.mute,
            "choked": self.chokes,
        }

    def _noticed(self, plan: Plan) -> Plan:
        """The plan, with the bars in which a choked stroke leaves open strings ringing."""
        if not self.chokes or not plan.open:
            return plan
        bars = [
            str(bar)
            for (bar, _), shape in zip(self.chords.places, plan.path, strict=True)
            if shape.open
        ]
        notice = (
            f"{plan.name}: the style chokes, and open strings cannot be choked by the fretting "
            f"hand: they ring on in the chords of bars {', '.join(dict.fromkeys(bars))}."
        )
        return replace(plan, notices=(*plan.notices, notice))
