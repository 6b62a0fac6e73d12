"""The bars of a tune in the order they are played.

Conventions: bars count from 1 through the whole performance; `start` is score time from the first
full bar (a pickup lies before zero).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from accomp.harmony import Key
from accomp.time import Meter
from accomp.tune.model import Bar, ChordSpan, Section, Tune
from accomp.tune.road import BODY, LAST, RoadMap, Stage, Step, pass_order, rounds, steps

INTRO = "Intro"  # the name of an intro that is no section of its own


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a played bar is written: entry of the form, section, ending and index of the bar.

    `time` counts, from 1, how often it has come by the section's own repeats.
    """

    stage: Stage = Stage.CHORUS
    entry: int = 0
    section: str = ""
    ending: str = BODY
    bar: int = 0
    time: int = 1

    @property
    def on_paper(self) -> tuple[str, str, int]:
        """A key of the written bar, the same at each place where the form has its section."""
        return self.section, self.ending, self.bar


@dataclass(frozen=True, slots=True)
class PlayedBar:
    """A bar in its place in the performance.

    `number` counts played bars from 1, `chorus` times through from 1; `section_bar` is the index
    of the bar in its section as played from 0, and `opens` says that a section begins here; after
    one that `leaves`, the rest of the form is left out for the coda.
    """

    number: int
    start: Fraction
    chorus: int
    section: str
    section_bar: int
    opens: bool
    key: Key
    meter: Meter
    style: str | None
    chords: tuple[ChordSpan, ...]
    spot: Spot = Spot()
    leaves: bool = False


def unfold(tune: Tune, choruses: int = 1) -> tuple[PlayedBar, ...]:
    """All bars of `choruses` times through the form, with what comes before and after, in order."""
    if choruses < 1:
        return ()
    bars = list(_bars(tune, _steps(tune, choruses)))
    if isinstance(tune.intro, int):
        bars = [*_last_bars(tune, tune.intro), *bars]
    return tuple(_counted(bars))


def planned_bars(tune: Tune) -> tuple[PlayedBar, ...]:
    """The bars of as many times through as it takes until each bar of the tune has come.

    The left hand plans these, and a tune file counts bars by them.
    """
    return unfold(tune, rounds(_road(tune), tune.sections))


def _road(tune: Tune) -> RoadMap:
    intro = tune.intro if isinstance(tune.intro, str) else None
    return RoadMap(tune.form, intro, tune.verse, tune.coda)


def _steps(tune: Tune, choruses: int) -> tuple[Step, ...]:
    return steps(_road(tune), tune.sections, choruses)


def _last_bars(tune: Tune, count: int) -> list[PlayedBar]:
    """The last bars of a time through that is not the last one, as an intro."""
    form = (step for step in _steps(tune, 2) if step.stage == Stage.CHORUS and step.chorus == 1)
    return [
        replace(
            bar,
            section=INTRO,
            section_bar=index,
            opens=index == 0,
            spot=replace(bar.spot, stage=Stage.INTRO),
        )
        for index, bar in enumerate(list(_bars(tune, form))[-count:])
    ]


def _bars(tune: Tune, way: Iterable[Step]) -> Iterator[PlayedBar]:
    """The bars of the sections, not yet counted."""
    for step in way:
        section = tune.sections[step.section]
        at = step.chorus - 1
        change = tune.choruses[at] if at < len(tune.choruses) else None
        inside = list(_section_bars(section, step))
        for index, (bar, spot) in enumerate(inside):
            yield PlayedBar(
                number=0,
                start=Fraction(0),
                chorus=step.chorus,
                section=section.name,
                section_bar=index,
                opens=index == 0,
                key=section.key,
                meter=section.meter,
                style=(change.style if change else None) or section.style or tune.style,
                chords=bar.chords,
                spot=spot,
                leaves=step.cut is not None and index == len(inside) - 1,
            )


def _section_bars(section: Section, step: Step) -> Iterator[tuple[Bar, Spot]]:
    spot = Spot(step.stage, step.entry, section.name)
    for index, time in pass_order(len(section.bars), section.repeats, step.cut):
        yield section.bars[index], replace(spot, bar=index, time=time)
    if step.ending == BODY:
        return
    ending = section.last if step.ending == LAST else section.endings[int(step.ending) - 1]
    for index, bar in enumerate(ending):
        yield bar, replace(spot, ending=step.ending, bar=index)


def _counted(bars: Iterable[PlayedBar]) -> Iterator[PlayedBar]:
    start = Fraction(0)
    for number, bar in enumerate(bars, 1):
        yield replace(bar, number=number, start=start)
        start += bar.meter.bar
