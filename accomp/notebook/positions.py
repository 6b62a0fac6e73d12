"""A tune's positions on a player's neck, as a sequence that is also looked up by name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import overload

from accomp.files.text import counted
from accomp.files.values import short
from accomp.job.positions import TuneNeck
from accomp.neck import Lesson, Plan, Player
from accomp.outward import Shown
from accomp.tune import Tune


@dataclass(frozen=True, eq=False, repr=False)
class NeckListing(Shown):
    """Base class of lists about a tune on a player's neck."""

    neck: TuneNeck

    @property
    def tune(self) -> Tune:
        """The tune, in the key asked for."""
        return self.neck.tune

    @property
    def player(self) -> Player:
        """The player."""
        return self.neck.neck.player


@dataclass(frozen=True, eq=False, repr=False)
class Positions(NeckListing, Sequence[Plan]):
    """Every position of a tune in one key, from the nut upward.

    `positions["third-top"]` is the position of that name, `positions["5"]` the one with the index
    finger at the fifth fret, `positions[0]` the first of the list.
    """

    plans: tuple[Plan, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the positions."""
        return tuple(plan.name for plan in self.plans)

    @property
    def best(self) -> Plan:
        """The position to learn first."""
        return self.neck.at(None)

    @property
    def lesson(self) -> Lesson:
        """The lesson of the positions, one after another."""
        return self.neck.lesson

    @property
    def notices(self) -> tuple[str, ...]:
        """Notices about the tune's chords and the instrument."""
        return (*self.neck.chords.notices, *self.player.instrument.notices)

    @overload
    def __getitem__(self, at: int | str) -> Plan: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[Plan, ...]: ...
    def __getitem__(self, at: int | str | slice) -> Plan | tuple[Plan, ...]:
        """By name, by fret as a text, or by index in the list.

        Raises `NoShapeError` with the names of the positions.
        """
        return self.neck.at(at) if isinstance(at, str) else self.plans[at]

    def __len__(self) -> int:
        return len(self.plans)

    def __repr__(self) -> str:
        names = ", ".join(self.names)
        many, tune = counted(len(self), "position"), self.tune
        return f"<{many} of {short(tune.title)!r} in {tune.key}: {short(names)}>"
