"""What a practice pack adds: speed ladders, drills, an audition of positions, a tuning track.

Conventions: each is a performance of its own. Steps of a ladder are per cent of the tempo. Common
practice, no source: slow practice first, and only faster when it is clean; stop when it hurts.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from accomp.job.asked import Asked
from accomp.job.items import Label
from accomp.job.options import Options
from accomp.job.positions import TuneNeck, tune_neck
from accomp.job.versions import Version, stem, version
from accomp.neck import Plan
from accomp.neck.lesson import ChangeLesson
from accomp.score.join import Cue, Segment, join
from accomp.score.perform import perform
from accomp.score.performance import Performance
from accomp.score.planning import tune_chords
from accomp.score.tuning import tuning_performance
from accomp.time import Span
from accomp.tune import Bar, ChordSpan, Section, Tune, slug

PACK_LADDER = (60, 70, 80, 90, 100)
DRILL_TURNS = 4


@dataclass(frozen=True)
class Take:
    """One more performance of a pack: file name without ending, label, notes, cue marks."""

    stem: str
    label: Label
    performance: Performance
    cues: tuple[Cue, ...] = ()


def takes(version: Version, neck: TuneNeck, asked: Asked, options: Options) -> Iterator[Take]:
    """The ladder, and in a pack the drills, of one version."""
    steps = options.ladder or (PACK_LADDER if options.pack else ())
    if steps:
        yield _ladder(version, neck, asked, options, steps)
    if options.pack:
        for number, change in enumerate(neck.hardest(version.plans[0]), 1):
            yield _drill(version, neck, asked, options, number, change, steps)


def _at_tempo(
    one: Version, neck: TuneNeck, asked: Asked, options: Options, share: float, plan: Plan
) -> Performance:
    """One chorus with its own count-in at a share of the tempo."""
    tempo = one.tempo * share
    slow = version(one.tune, neck, one.position, [plan], asked, tempo, options.seed, ending=False)
    return perform(slow.arrangement, count_in=max(1, options.count_in))


def _bar_s(performance: Performance) -> float:
    """Length of the last bar, in seconds: a gap that keeps bar lines on the beat."""
    meter = performance.meters[-1]
    return performance.tempos[-1].quarter_s * 4 * meter.count / meter.unit


def _joined(
    title: str, parts: list[tuple[str, Performance]]
) -> tuple[Performance, tuple[Cue, ...]]:
    return join(title, [Segment(name, one, _bar_s(one)) for name, one in parts])


def _percent(version: Version, step: int) -> str:
    return f"{step} % ({version.tempo * step / 100:g})"


def _ladder(
    version: Version, neck: TuneNeck, asked: Asked, options: Options, steps: Sequence[int]
) -> Take:
    """A chorus a step, each with its own count-in."""
    parts = [
        (
            _percent(version, step),
            _at_tempo(version, neck, asked, options, step / 100, version.plans[0]),
        )
        for step in steps
    ]
    whole, cues = _joined(f"{version.tune.title}: speed ladder", parts)
    return Take(f"{version.stem}_ladder", version.label("ladder"), whole, cues)


def _drill(
    version: Version,
    neck: TuneNeck,
    asked: Asked,
    options: Options,
    number: int,
    change: ChangeLesson,
    steps: Sequence[int],
) -> Take:
    """One change to and fro, a bar each, at rising speed."""
    tune = drill_tune(version.tune, change)
    chords = tune_chords(tune)
    shapes = {str(change.from_chord): change.from_shape, str(change.to_chord): change.to_shape}
    plan = replace(version.plans[0], path=tuple(shapes[str(chord)] for chord in chords.chords))
    there = tune_neck(tune, asked)
    asked = replace(asked, melody=())
    parts = []
    for step in steps:
        one = replace(version, tune=tune, chords=chords)
        parts.append(
            (_percent(version, step), _at_tempo(one, there, asked, options, step / 100, plan))
        )
    names = f"{change.from_chord} to {change.to_chord}"
    whole, cues = _joined(f"{version.tune.title}: {names}", parts)
    return Take(f"{version.stem}_drill-{number}", version.label("drill"), whole, cues)


def drill_tune(tune: Tune, change: ChangeLesson) -> Tune:
    """A tune of the two chords of a change, a bar each, several times over."""
    bar = tune.meter.bar
    bars = tuple(
        Bar((ChordSpan(chord, Span(Fraction(0), bar)),))
        for _ in range(DRILL_TURNS)
        for chord in (change.from_chord, change.to_chord)
    )
    section = Section("Drill", bars, tune.key, tune.meter)
    return replace(
        tune, sections={"Drill": section}, form=("Drill",), pickup=Fraction(0), choruses=()
    )


def audition(
    versions: Sequence[Version], neck: TuneNeck, asked: Asked, options: Options
) -> Take | None:
    """The same chorus in each position one after another; None where there is only one."""
    first = versions[0]
    plans = {plan.name: plan for one in versions for plan in one.plans}
    if len(plans) < 2:
        plans = {plan.name: plan for plan in neck.every}
    if len(plans) < 2:
        return None
    parts = [
        (name, _at_tempo(replace(first, position=name), neck, asked, options, 1.0, plan))
        for name, plan in plans.items()
    ]
    whole, cues = _joined(f"{first.tune.title}: positions to compare", parts)
    label = first.label("audition", position=", ".join(plans))
    return Take(f"{stem(first.tune, first.tempo)}_audition", label, whole, cues)


def tuning(version: Version, asked: Asked) -> Take:
    """The open strings one by one."""
    performance = tuning_performance(asked.instrument)
    label = Label("", "tuning", "", 0.0, "", "")
    return Take(f"{slug(version.tune.title)}_tuning", label, performance)
