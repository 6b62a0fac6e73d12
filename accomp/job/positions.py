"""Which positions a job makes, and the plan of each chorus.

Conventions: a version has one plan a chorus. A position asked for by option holds for every
chorus; otherwise a chorus of the tune file may name its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from accomp.errors import InputError, NoShapeError, Problem
from accomp.job.asked import Asked
from accomp.job.options import Options
from accomp.neck import Plan, plan_at, positions
from accomp.score.planning import TuneChords
from accomp.tune import Tune


def plans_for(tune: Tune, neck: Neck) -> Iterator[tuple[str, tuple[Plan, ...]]]:
    """(name, plan of each chorus) for every position asked for.

    Raises `NoShapeError` when a chord has no shape, or the tune no such position.
    """
    if neck.options.positions:
        for where in neck.options.positions:
            for plan in neck.all() if where == "all" else (neck.at(where),):
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

    Where a style chokes and neither --open nor --closed was said, closed shapes are asked for
    first; where there are none, the plan says that open strings will ring on.
    """

    def __init__(self, chords: TuneChords, asked: Asked, options: Options) -> None:
        self.chords = chords
        self.asked = asked
        self.options = options
        self.prefers_closed = options.closed is None and any(
            style.chokes for style in asked.styles.values()
        )
        self.made: dict[str | None, Plan] = {}

    def all(self) -> tuple[Plan, ...]:
        """Every position there is, closed ones alone where the style chokes and some exist."""
        chords, instrument, hand = self.chords, self.asked.instrument, self.asked.hand
        if self.prefers_closed:
            try:
                return tuple(
                    positions(chords.chords, chords.home, instrument, hand, **self._how(True))
                )
            except NoShapeError:
                pass
        how = self._how(self.options.closed)
        plans = positions(chords.chords, chords.home, instrument, hand, **how)
        return tuple(self._noticed(plan) for plan in plans)

    def at(self, where: str | None) -> Plan:
        """The plan of a position by name or fret, the best of all for None."""
        if where not in self.made:
            self.made[where] = self._at(where)
        return self.made[where]

    def _at(self, where: str | None) -> Plan:
        place = int(where) if where is not None and where.isdecimal() else where
        chords, instrument, hand = self.chords, self.asked.instrument, self.asked.hand
        if self.prefers_closed:
            try:
                return plan_at(
                    chords.chords, chords.home, instrument, hand, place, **self._how(True)
                )
            except NoShapeError:
                pass
        how = self._how(self.options.closed)
        return self._noticed(plan_at(chords.chords, chords.home, instrument, hand, place, **how))

    def _how(self, closed: bool | None) -> dict[str, Any]:
        options = self.options
        return {
            "closed": closed,
            "plan": options.plan,
            "shapes": options.shapes,
            "mute": options.mute,
        }

    def _noticed(self, plan: Plan) -> Plan:
        """The plan, with the bars in which a choked stroke leaves open strings ringing."""
        if not self.prefers_closed:
            return plan
        bars = [
            str(bar)
            for (bar, _), shape in zip(self.chords.places, plan.path, strict=True)
            if shape.open
        ]
        if not bars:
            return plan
        notice = (
            f"{plan.name}: the style chokes, and open strings cannot be choked by the fretting "
            f"hand: they ring on from bar {', '.join(dict.fromkeys(bars))}."
        )
        return replace(plan, notices=(*plan.notices, notice))
