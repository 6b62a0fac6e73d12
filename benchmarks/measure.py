"""What a benchmark hands back, and how times are taken.

Conventions: times in seconds. Machines are noisy, so two things that are compared take turns; the
ratio is the median of the turns' ratios, and that of the least times goes into the note.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

_UNUSUAL = {"PYTHONDONTWRITEBYTECODE", "PYTHONUNBUFFERED", "PYTHONDEVMODE", "PYTHONOPTIMIZE"}


@dataclass(frozen=True)
class Measure:
    """One figure. `ratio` is what the goal speaks of (`at_most` or `at_least`, or neither)."""

    name: str
    value: float
    unit: str
    reference: str = ""
    reference_value: float | None = None
    ratio: float | None = None
    at_most: float | None = None
    at_least: float | None = None
    note: str = ""

    @property
    def goal(self) -> str:
        """The goal in words, empty when there is none."""
        if self.at_most is not None:
            return f"at most {self.at_most:g} x"
        return f"at least {self.at_least:g} x" if self.at_least is not None else ""

    @property
    def ok(self) -> bool:
        """Whether the goal is met (always, when there is none)."""
        if self.ratio is None:
            return not self.goal
        low = self.at_least is None or self.ratio >= self.at_least
        return low and (self.at_most is None or self.ratio <= self.at_most)


@dataclass(frozen=True)
class Times:
    """Several times of one thing."""

    seconds: tuple[float, ...]

    @property
    def median(self) -> float:
        """The middle one."""
        return statistics.median(self.seconds)

    @property
    def least(self) -> float:
        """The shortest: what the machine can do when nothing disturbs it."""
        return min(self.seconds)

    def over(self, other: Times) -> float:
        """How many times as long as `other`, which took turns with this: the median turn."""
        pairs = zip(self.seconds, other.seconds, strict=True)
        return statistics.median(one / two for one, two in pairs)


def in_turns(things: Sequence[Callable[[], object]], rounds: int) -> list[Times]:
    """Time each thing `rounds` times, taking turns; one more round before warms the caches."""
    taken: list[list[float]] = [[] for _ in things]
    for turn in range(rounds + 1):
        for thing, times in zip(things, taken, strict=True):
            start = time.perf_counter()
            thing()
            if turn:
                times.append(time.perf_counter() - start)
    return [Times(tuple(times)) for times in taken]


def command(*words: str) -> Callable[[], object]:
    """Something that runs a command in a process of its own and insists that it succeeds."""
    usual = usual_environment()
    return lambda: subprocess.run(words, check=True, capture_output=True, env=usual)


def usual_environment() -> dict[str, str]:
    """Ours, but that compiled bytecode is kept, as on a user's machine."""
    return {name: value for name, value in os.environ.items() if name not in _UNUSUAL}


def slower(
    name: str, ours: Times, reference: str, theirs: Times, at_most: float, note: str = ""
) -> Measure:
    """How many times as long we take as the reference."""
    return Measure(
        name,
        ours.median,
        "s",
        reference,
        theirs.median,
        ours.over(theirs),
        at_most=at_most,
        note=_with_least(note, ours.least / theirs.least),
    )


def faster(
    name: str, ours: Times, reference: str, theirs: Times, at_least: float, note: str = ""
) -> Measure:
    """How many times as fast we are as the reference."""
    return Measure(
        name,
        ours.median,
        "s",
        reference,
        theirs.median,
        theirs.over(ours),
        at_least=at_least,
        note=_with_least(note, theirs.least / ours.least),
    )


def _with_least(note: str, ratio: float) -> str:
    return f"{note}{'; ' if note else ''}{ratio:.2f} by least times"
