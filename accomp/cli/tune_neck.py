"""What `accomp positions` and `accomp keys` show: a tune on the neck of one player."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, ClassVar

from accomp.errors import InputError, NoShapeError, Problem
from accomp.job.asked import understand
from accomp.job.options import Options
from accomp.job.shapeless import in_its_place
from accomp.neck import (
    KeyPositions,
    Plan,
    Pricing,
    Shape,
    keys,
    lesson,
    plan_at,
    positions,
    read_costs,
    repertoire_for,
)
from accomp.neck.describe import keys_dict, positions_dict
from accomp.neck.explain import explain
from accomp.score.planning import tune_chords
from accomp.tune import read_tune, transpose_tune, unfold


class TuneNeck:
    """A tune in one key, its chords, and the player who is to play them."""

    KEYS_HEAD: ClassVar = ("key", "position", "frets", "stretch", "cost", "strings", "slid from")

    def __init__(
        self,
        path: Path,
        key: str | None,
        plan: str,
        shapes: str,
        instrument: str | None,
        hand: str,
        reach_mm: float | None,
        repertoire: Path | None,
        costs: Path | None,
        opened: bool | None,
        mute: bool,
    ) -> None:
        tune = read_tune(path)
        options = Options(
            keys=() if key is None else (key,),
            instrument=instrument,
            hand=hand,
            reach_mm=reach_mm,
            closed=None if opened is None else not opened,
            mute=mute,
        )
        asked = understand(tune, options)
        if len(asked.keys) > 1:
            message = "positions are shown in one key; `accomp keys` shows all of them."
            raise InputError(Problem(message, "--key", found=str(key)))
        self.tune = transpose_tune(tune, asked.keys[0])
        self.asked, self.options = asked, options
        self.instrument, self.hand = asked.instrument, asked.hand
        self.chords = tune_chords(self.tune)
        weights = read_costs(costs) if costs else None
        self.pricing = Pricing(self.instrument, self.hand, weights, choked=asked.chokes)
        self.how: dict[str, Any] = {
            "closed": options.closed,
            "plan": plan,
            "shapes": shapes,
            "repertoire": repertoire_for(self.instrument, self.hand, repertoire),
            "mute": mute,
            "costs": weights,
            "choked": asked.chokes,
        }
        known = self.how["repertoire"]
        self.notices = list(self.chords.notices)
        if known.proposed:
            self.notices.append(
                f"No repertoire is known for {self.instrument.title}: the program proposes "
                f"{', '.join(known.names)}. `accomp shapes {self.chords.home} --instrument "
                f"{self.instrument.name} --write-repertoire FILE` writes it for you to edit."
            )

    def plans(self, only: Sequence[str]) -> list[Plan]:
        """All positions, or those asked for by name or fret.

        Raises `InputError` with the place in the tune of what cannot be played.
        """
        what = (self.chords.chords, self.chords.home, self.instrument, self.hand)
        wanted = [int(name) if name.isdecimal() else name for name in only]
        try:
            if not wanted:
                return positions(*what, **self.how)
            return [plan_at(*what, where, **self.how) for where in wanted]
        except NoShapeError as error:
            raise in_its_place(error, self.tune, self.asked, self.options) from None

    def heading(self) -> list[str]:
        """What is shown."""
        return [f"{self.tune.title}, in {self.tune.key}, on {self.instrument.title}"]

    def facts(self, plan: Plan) -> str:
        """One line about a plan."""
        low, high = plan.frets
        kind = "open strings" if plan.open else "closed"
        return (
            f"{plan.name}: frets {low} to {high}, {kind}, widest stretch {plan.stretch_mm:.0f} mm, "
            f"cost {plan.cost:.1f}"
        )

    def boxes(self, plan: Plan) -> list[tuple[str, Shape]]:
        """Each different shape of a plan with its chord, in order of first use."""
        pairs = zip(self.chords.chords, plan.path, strict=True)
        return [(str(chord), shape) for chord, shape in dict.fromkeys(pairs)]

    def explained(self, plans: Sequence[Plan], draw: Callable[[Any], list[str]]) -> list[str]:
        """The lesson in words and boxes."""
        return explain(
            self._lesson(plans),
            self.instrument,
            [bar for bar, _ in self.chords.places],
            comfort_mm=self.hand.comfort_mm,
            draw=draw,
        )

    def document(self, plans: Sequence[Plan]) -> dict[str, Any]:
        """The positions for JSON."""
        meters = {bar.number: bar.meter for bar in unfold(self.tune)}
        places = [(bar, float(1 + start / meters[bar].beat)) for bar, start in self.chords.places]
        found = positions_dict(
            self.tune.title,
            self.tune.key,
            self._lesson(plans),
            self.chords.chords,
            places,
            self.pricing,
        )
        return {**found, "notices": self.notices}

    def _lesson(self, plans: Sequence[Plan]) -> Any:
        return lesson(plans, self.chords.chords, self.tune.key, self.pricing)

    def keys(self) -> list[KeyPositions]:
        """The positions in all 12 keys."""
        return keys(
            self.chords.chords,
            self.chords.home,
            self.tune.key,
            self.instrument,
            self.hand,
            **self.how,
        )

    def keys_document(self, rows: Sequence[KeyPositions]) -> dict[str, Any]:
        """The keys for JSON."""
        return {**keys_dict(self.tune.title, self.instrument, rows), "notices": self.notices}

    def home_boxes(self, row: KeyPositions) -> list[tuple[str, Shape]]:
        """The home chord's shape in each position of a key."""
        at = self.chords.chords.index(self.chords.home)
        return [(one.plan.name, one.plan.path[at]) for one in row.positions]

    def key_lines(self, row: KeyPositions) -> list[tuple[str, ...]]:
        """One line of the table for each position of a key."""
        if not row.positions:
            return [(str(row.key), "none", "", "", "", "", "")]
        return [
            (
                str(row.key),
                one.plan.name,
                f"{one.plan.frets[0]}-{one.plan.frets[1]}",
                f"{one.plan.stretch_mm:.0f} mm",
                f"{one.plan.cost:.1f}",
                "open" if one.plan.open else "closed",
                "" if one.slid_from is None else " ".join(one.slid_from),
            )
            for one in row.positions
        ]
