"""The road map: which sections come in which order, with which of their endings.

Conventions: this is the one place that decides the way through a tune. It asks a section only for
what `RoutedSection` lists, so that it serves a tune in the making, too. Numbered endings follow the
times a section comes within one time through the form, where the form has it several times, else
the times through. A section that comes oftener than it has endings takes the last numbered one
again. The last time of the whole performance takes `last`, or the last numbered ending, which leads
on.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Protocol

from accomp.tune.model import Repeat

BODY, LAST = "", "last"  # parts of a section beside its numbered endings "1", "2" ...


class Stage(StrEnum):
    """The part that a section has in the performance."""

    INTRO = "intro"
    VERSE = "verse"
    CHORUS = "chorus"
    CODA = "coda"


class RoutedSection(Protocol):
    """The facts of a section that decide the way."""

    @property
    def numbered(self) -> int:
        """How many numbered endings it has."""

    @property
    def has_last(self) -> bool:
        """Whether it has an ending for the last time."""

    @property
    def to_coda(self) -> int | None:
        """After which of its bars the last time goes to the coda."""


@dataclass(frozen=True, slots=True)
class RoadMap:
    """The order of sections; see `accomp.tune.model.Tune`."""

    form: tuple[str, ...]
    intro: str | None = None
    verse: tuple[str, ...] = ()
    coda: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Step:
    """A section as it comes once.

    `chorus` counts times through from 1; before and after the form it is the nearest one. `entry`
    is the index in the list of its stage. `ending` is the part that follows its bars, BODY for
    none; `cut` the number of the bar after which it is left for the coda.
    """

    stage: Stage
    chorus: int
    entry: int
    section: str
    ending: str = BODY
    cut: int | None = None


def steps(road: RoadMap, sections: Mapping[str, RoutedSection], choruses: int) -> tuple[Step, ...]:
    """The way, `choruses` times through the form; names that are no section are passed over."""
    found = [step for step in _plain(road, choruses) if step.section in sections]
    leaving = _leaving(found, sections, choruses) if road.coda else None
    if leaving is not None:
        cut = replace(found[leaving], cut=sections[found[leaving].section].to_coda)
        found = [
            *found[:leaving],
            cut,
            *(step for step in found[leaving + 1 :] if step.stage == Stage.CODA),
        ]
    return tuple(_with_endings(found, sections, Counter(road.form)))


def rounds(road: RoadMap, sections: Mapping[str, RoutedSection]) -> int:
    """How many times through it takes until every bar has come, of those that ever come."""
    needed = 1
    for name, count in Counter(road.form).items():
        if name not in sections:
            continue
        one = sections[name]
        endings = max(1, one.numbered) if count == 1 else 1
        more = bool(one.has_last or (one.to_coda and road.coda))
        needed = max(needed, endings + more)
    return needed


def _plain(road: RoadMap, choruses: int) -> Iterator[Step]:
    """The sections in order, not yet cut, without endings."""
    if road.intro is not None:
        yield Step(Stage.INTRO, 1, 0, road.intro)
    for entry, name in enumerate(road.verse):
        yield Step(Stage.VERSE, 1, entry, name)
    for chorus in range(1, choruses + 1):
        for entry, name in enumerate(road.form):
            yield Step(Stage.CHORUS, chorus, entry, name)
    for entry, name in enumerate(road.coda):
        yield Step(Stage.CODA, max(1, choruses), entry, name)


def _leaving(
    found: Sequence[Step], sections: Mapping[str, RoutedSection], choruses: int
) -> int | None:
    """The index of the step at which the last time through leaves for the coda."""
    for place in range(len(found) - 1, -1, -1):
        step = found[place]
        in_last = step.stage == Stage.CHORUS and step.chorus == choruses
        if in_last and sections[step.section].to_coda is not None:
            return place
    return None


def _with_endings(
    found: Sequence[Step], sections: Mapping[str, RoutedSection], in_form: Mapping[str, int]
) -> Iterator[Step]:
    finals = {step.section: place for place, step in enumerate(found)}
    come: Counter[tuple[Stage, int, str]] = Counter()
    for place, step in enumerate(found):
        one = sections[step.section]
        come[step.stage, step.chorus, step.section] += 1
        if step.cut is not None or not one.numbered:
            yield step
            continue
        final = finals[step.section] == place
        if final and one.has_last:
            yield replace(step, ending=LAST)
        elif final:
            yield replace(step, ending=str(one.numbered))
        else:
            once = step.stage == Stage.CHORUS and in_form[step.section] == 1
            time = step.chorus if once else come[step.stage, step.chorus, step.section]
            yield replace(step, ending=str(min(time, one.numbered)))


def pass_order(
    bars: int, repeats: Sequence[Repeat], cut: int | None = None
) -> Iterator[tuple[int, int]]:
    """The bars of a section's body as they come: (index of the bar, how often it has come, from 1).

    With `cut`, up to the last time that so many bars have been played.
    """
    order: list[tuple[int, int]] = []
    at = 0
    for repeat in sorted(repeats, key=lambda one: one.first):
        order += [(index, 1) for index in range(at, repeat.first)]
        order += [
            (index, time)
            for time in range(1, repeat.times + 1)
            for index in range(repeat.first, repeat.last)
        ]
        at = repeat.last
    order += [(index, 1) for index in range(at, bars)]
    if cut is not None:
        end = max(place for place, (index, _) in enumerate(order) if index == cut - 1)
        order = order[: end + 1]
    return iter(order)


def played_length(bars: int, repeats: Sequence[Repeat]) -> int:
    """How many bars a section's body is when it is played."""
    return bars + sum((one.times - 1) * (one.last - one.first) for one in repeats)
