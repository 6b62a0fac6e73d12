"""The practice tracks of a pack: speed ladder, drills, an audition of positions, a tuning track.

Conventions: each track is a performance of its own. Steps of a ladder are per cent of the tempo.
Common practice, no source: practise slowly first, and faster only when it is clean; stop when it
hurts. A cue sheet has the common text form (FILE, TRACK, TITLE, INDEX) with times as
minutes:seconds:frames.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from accomp.files.text import one_line
from accomp.job.manifest import Label
from accomp.job.positions import tune_neck
from accomp.job.request import Request
from accomp.job.versions import Version, one_time
from accomp.neck.lesson import ChangeLesson
from accomp.score.join import Cue, Segment, join
from accomp.score.performance import Performance
from accomp.score.tuning import tuning_performance
from accomp.time import Span
from accomp.tune import Bar, ChordSpan, Section, Tune, slug, unfold

PACK_LADDER = (60, 70, 80, 90, 100)
DRILL_TURNS = 4
FRAMES = 75  # of a cue sheet, in a second
_CUE_TYPES = {"mp3": "MP3"}


@dataclass(frozen=True)
class PracticeTrack:
    """A practice track: file name without ending, label, performance and cue marks."""

    stem: str
    label: Label
    performance: Performance
    cues: tuple[Cue, ...] = ()


def practice_tracks(version: Version) -> Iterator[PracticeTrack]:
    """The ladder, and in a pack the drills, of one version."""
    options = version.request.options
    steps = options.ladder or (PACK_LADDER if options.pack else ())
    if steps:
        yield _ladder(version, steps)
    if options.pack:
        for number, change in enumerate(version.neck.hardest(version.plans[0]), 1):
            yield _drill(version, number, change, steps)


def tuning_track(version: Version) -> PracticeTrack:
    """The open strings one by one."""
    performance = tuning_performance(version.request.player.instrument)
    return PracticeTrack(f"{slug(version.tune.title)}_tuning", Label(None, "tuning"), performance)


def _ladder(version: Version, steps: Sequence[int]) -> PracticeTrack:
    """A chorus a step, each with its own count-in."""
    title = f"{version.tune.title}: speed ladder"
    whole, cues = _joined(title, _at_steps(version, steps))
    return PracticeTrack(f"{version.stem}_ladder", version.label("ladder"), whole, cues)


def _drill(
    version: Version, number: int, change: ChangeLesson, steps: Sequence[int]
) -> PracticeTrack:
    """One chord change, there and back, a bar each, at rising speed."""
    request = replace(version.request, melody=())
    tune = _in_a_played_style(version.tune, request)
    neck = tune_neck(drill_tune(tune, change), request)
    shapes = {str(change.from_chord): change.from_shape, str(change.to_chord): change.to_shape}
    path = tuple(shapes[str(chord)] for chord in neck.chords.chords)
    plan = replace(version.plans[0], path=path)
    drill = replace(version, request=request, neck=neck, plans=(plan,))
    title = f"{version.tune.title}: {change.from_chord} to {change.to_chord}"
    whole, cues = _joined(title, _at_steps(drill, steps))
    return PracticeTrack(f"{version.stem}_drill-{number}", version.label("drill"), whole, cues)


def _in_a_played_style(tune: Tune, request: Request) -> Tune:
    """The tune with a style and meter that are played: its own, or those of its first bar."""
    if (tune.style, tune.meter) in request.styles:
        return tune
    first = unfold(tune)[0]
    return replace(tune, style=first.style, meter=first.meter)


def drill_tune(tune: Tune, change: ChangeLesson) -> Tune:
    """A tune of the two chords of a change, a bar each, repeated several times."""
    bar = tune.meter.bar
    bars = tuple(
        Bar((ChordSpan(chord, Span(Fraction(0), bar)),))
        for _ in range(DRILL_TURNS)
        for chord in (change.from_chord, change.to_chord)
    )
    section = Section("Drill", bars, tune.key, tune.meter)
    return replace(
        one_time(tune),
        sections={"Drill": section},
        form=("Drill",),
        pickup=Fraction(0),
        choruses=(),
        times=None,
    )


def audition(versions: Sequence[Version]) -> Iterator[PracticeTrack]:
    """The same chorus in each position, one after another; nothing if there is only one."""
    first = versions[0]
    plans = {plan.name: plan for one in versions for plan in one.plans}
    if len(plans) < 2:
        plans = {plan.name: plan for plan in first.neck.every}
    if len(plans) < 2:
        return
    title = f"{first.tune.title}: positions to compare"
    whole, cues = _joined(title, ((name, first.one_chorus(plan)) for name, plan in plans.items()))
    label = first.label("audition", position=", ".join(plans))
    yield PracticeTrack(f"{first.stem_of_all_positions}_audition", label, whole, cues)


def _at_steps(version: Version, steps: Sequence[int]) -> Iterator[tuple[str, Performance]]:
    for step in steps:
        name = f"{step} % ({version.tempo * step / 100:g})"
        yield name, version.one_chorus(version.plans[0], step / 100)


def _joined(
    title: str, parts: Iterable[tuple[str, Performance]]
) -> tuple[Performance, tuple[Cue, ...]]:
    return join(title, [Segment(name, one, _bar_s(one)) for name, one in parts])


def _bar_s(performance: Performance) -> float:
    """Length of the last bar, in seconds: a gap that keeps bar lines on the beat."""
    meter = performance.meters[-1]
    return performance.tempos[-1].quarter_s * 4 * meter.count / meter.unit


def cue_sheet(title: str, audio: str, cues: Sequence[Cue], silence_s: float = 0.0) -> str:
    """The cue sheet of an audio file with this name, which begins with `silence_s` of silence."""
    kind = _CUE_TYPES.get(audio.rsplit(".", 1)[-1], "WAVE")
    lines = [f'TITLE "{_cue_text(title)}"', f'FILE "{_cue_text(audio)}" {kind}']
    for number, cue in enumerate(cues, 1):
        frames = round((cue.start_s + (silence_s if cue.start_s > 0 else 0)) * FRAMES)
        minutes, rest = divmod(frames, 60 * FRAMES)
        lines += [
            f"  TRACK {number:02d} AUDIO",
            f'    TITLE "{_cue_text(cue.name)}"',
            f"    INDEX 01 {minutes:02d}:{rest // FRAMES:02d}:{rest % FRAMES:02d}",
        ]
    return "\n".join(lines) + "\n"


def _cue_text(text: str) -> str:
    """A text on one line; double quotes, which a cue sheet cannot hold, become single ones."""
    return one_line(text).replace('"', "'")
