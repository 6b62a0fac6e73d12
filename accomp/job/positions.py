"""The positions that a job makes, the plan of each chorus, and problems of unplayable chords.

Conventions: a version has one plan for each chorus. A position asked for by option holds for every
chorus; otherwise a chorus of the tune file may name its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from accomp.errors import InputError, NoShapeError, Problem
from accomp.job.request import Request
from accomp.job.wishes import with_wishes
from accomp.neck import CostModel, Lesson, Neck, Plan, Wish, lesson, no_shape
from accomp.neck.lesson import ChangeLesson, changes, hardest_changes
from accomp.score.planning import TuneChords, tune_chords
from accomp.tune import Tune


@dataclass(frozen=True)
class TuneNeck:
    """A tune in one key, its chords, a player's neck that can plan them, and the wish."""

    tune: Tune
    chords: TuneChords
    neck: Neck
    wish: Wish

    @property
    def every(self) -> tuple[Plan, ...]:
        """All positions, from the nut upward."""
        plans = self.neck.positions(replace(self.wish, positions=()))
        return tuple(self._noticed(plan) for plan in plans)

    def asked_for(self) -> tuple[Plan, ...]:
        """The positions that the wish names; all if it names none."""
        return tuple(self._noticed(plan) for plan in self.neck.positions(self.wish))

    def at(self, where: str | None) -> Plan:
        """The plan of a position by name or fret, or of the one to learn first (None).

        Raises `NoShapeError` when there is no such position.
        """
        neck, wish = self.neck, self.wish
        return self._noticed(neck.best(wish) if where is None else neck.at(where, wish))

    @property
    def lesson(self) -> Lesson:
        """The lesson of all positions, one after another."""
        return self.lesson_of(self.every)

    def lesson_of(self, plans: Sequence[Plan]) -> Lesson:
        """The lesson of some positions, in this order, each with advice on what to learn next."""
        return lesson(
            plans,
            self.chords.chords,
            self.tune.key,
            self.costs,
            advice=lambda plan: self.neck.learn_next(plan, self.wish),
        )

    def hardest(self, plan: Plan) -> tuple[ChangeLesson, ...]:
        """The changes of a plan to drill first."""
        return hardest_changes(changes(plan, self.chords.chords, self.costs))

    @property
    def costs(self) -> CostModel:
        """The player's cost model for shapes and changes in this style."""
        return self.neck.player.cost_model(choked=self.wish.choked)

    def _noticed(self, plan: Plan) -> Plan:
        """The plan; a notice names the bars in which choked strokes leave open strings ringing."""
        if not self.wish.choked or not plan.open:
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


def tune_neck(tune: Tune, request: Request) -> TuneNeck:
    """A tune on its player's neck. Raises `InputError` when it has no chord, or when the player
    cannot do what it wishes."""
    chords = tune_chords(tune)
    own = {Path(name).stem for name in (tune.instrument, request.options.usual_instrument) if name}
    player = request.player
    wish, left_out = with_wishes(
        tune, chords, player, request.wish, own=player.instrument.name in own
    )
    moved = [one for one in tune.notices if one not in request.notices]
    chords = replace(chords, notices=(*chords.notices, *moved, *left_out))
    return TuneNeck(tune, chords, Neck(request.player, chords.chords, chords.home), wish)


def plans_for(neck: TuneNeck, choruses: int) -> Iterator[tuple[str, tuple[Plan, ...]]]:
    """(name, plan of each of the choruses) for every position asked for.

    Raises `NoShapeError` when a chord has no shape or the tune has no such position, `InputError`
    with every chorus that names a position that the tune has not.
    """
    if neck.wish.positions:
        for plan in neck.asked_for():
            yield plan.name, (plan,) * choruses
        return
    named = [one.position for one in neck.tune.choruses[:choruses]]
    stands: list[str | None] = [*named, *[None] * (choruses - len(named))]
    made: dict[str | None, Plan] = {}
    wrong: dict[str, NoShapeError] = {}
    problems: list[Problem] = []
    for chorus, where in enumerate(stands):
        place = neck.tune.places.get(f"chorus.{chorus}.position")
        if where not in made and where not in wrong:
            try:
                made[where] = neck.at(where)
            except NoShapeError as error:
                if where is None or place is None:
                    raise
                wrong[where] = error
        if where in wrong and place is not None:
            why = wrong[where]
            said = Problem(str(why), neck.tune.file, *place, found=where, helps=why.helps)
            problems.append(said)
    if problems:
        raise InputError(problems)
    plans = [made[where] for where in stands]
    yield "+".join(dict.fromkeys(plan.name for plan in plans)), tuple(plans)


@contextmanager
def in_its_place(neck: TuneNeck) -> Iterator[None]:
    """Turn `NoShapeError` into an `InputError` with one problem for each unplayable chord, at the
    first place where the tune file has it."""
    try:
        yield
    except NoShapeError as error:
        raise InputError(_unplayable(neck) or error.problems_in(neck.tune.file)) from None


def _unplayable(neck: TuneNeck) -> list[Problem]:
    """Problems of the chords that the player cannot play; empty if only changes are the problem."""
    tune, player, closed = neck.tune, neck.neck.player, neck.wish.closed is True
    places = {
        item.chord: (item.line, item.column)
        for section in reversed(list(tune.sections.values()))
        for bar in reversed(list(section.every_bar))
        for item in reversed(bar.chords)
        if item.chord is not None and item.written
    }
    problems = []
    for chord, (line, column) in places.items():
        if not any(not (closed and shape.open) for shape in player.playable(chord)):
            why = no_shape([chord], player, closed=closed)
            problems.append(
                Problem(str(why), tune.file, line, column, found=str(chord), helps=why.helps)
            )
    return sorted(problems, key=lambda problem: (problem.line, problem.column))
