"""A lead sheet as written turned into a tune: checked, laid out in full bars, put into sections.

Conventions: `WrittenTune.problems` gets everything that makes it unplayable, each with its place;
its notices get everything else that changes on the way into the tune.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from accomp.errors import Problem
from accomp.harmony import NO_CHORD
from accomp.intake.layout import FormLayout, Surveyor
from accomp.intake.repeats import EndlessRepeatsError, playing_order, segments
from accomp.intake.sections import sections_of
from accomp.intake.written import WrittenTune
from accomp.time import FASTEST_BPM, METERS, MOST_BARS, SLOWEST_BPM, USUAL_BPM, Meter
from accomp.tune.fields import FINEST
from accomp.tune.model import Tune


@dataclass(frozen=True)
class BuiltTune:
    """A tune and its segments in the order played (which the melody needs)."""

    tune: Tune
    played: tuple[FormLayout, ...]


def build_tune(written: WrittenTune) -> BuiltTune | None:
    """The tune, or None; `written.problems` then say why."""
    if written.problems:
        return None
    if written.bars and not any(chord.symbol for bar in written.bars for chord in bar.chords):
        written.problems.append(_no_chords(written, "it has no chord symbols."))
    played = lay_out(written)
    if played is None:
        return None
    _before_the_first(written, played)
    road = sections_of(written, played)
    every = [bar for section in road.sections.values() for bar in section.every_bar]
    if not any(span.chord for bar in every for span in bar.chords):
        written.problems.append(_no_chords(written, "none of its chord symbols can be played."))
        return None
    opening = next(layout for layout in played if layout.bars)
    meter = opening.meter
    tune = Tune(
        title=written.title,
        key=written.bars[opening.first].key,
        meter=meter,
        tempo=_tempo(written, meter),
        sections=road.sections,
        form=road.form,
        composer=written.composer,
        pickup=_pickup(written, played[0], meter),
        notices=(),
    )
    return BuiltTune(road.laid_into(tune), played)


def lay_out(written: WrittenTune) -> tuple[FormLayout, ...] | None:
    """The segments in full bars, in the order played; they need no chords.

    None when the bars cannot be played through; `written.problems` then say why.
    """
    _check(written)
    if written.problems:
        return None
    try:
        order = playing_order(written)
    except EndlessRepeatsError:
        message = f"with its repeats it has more than {MOST_BARS} bars."
        written.problems.append(_too_long(written, message))
        return None
    if not order:
        written.problems.append(
            _problem(
                written,
                "its endings lead past every bar.",
                found="endings",
                expected="bars that are played the first time",
                hint="Look at the numbers of its endings.",
            )
        )
        return None
    runs = segments(written.bars, order)
    surveyor = Surveyor(written, order)
    layouts = {first: surveyor.layout(first, last) for first, last in runs}
    if not any(layout.bars for layout in layouts.values()):
        surveyor = Surveyor(written, order, pickups=False)
        layouts = {first: surveyor.layout(first, last) for first, last in runs}
    _unplayed(written, order)
    played = tuple(layouts[index] for index in order if index in layouts)
    if sum(len(layout.bars) for layout in played) > MOST_BARS:
        message = f"played through, it has more than {MOST_BARS} full bars."
        written.problems.append(_too_long(written, message))
        return None
    return played


def _check(written: WrittenTune) -> None:
    bars = written.bars
    if not bars:
        written.problems.append(
            _problem(
                written,
                "it has no bars.",
                found="no music",
                expected="bars with chord symbols",
                hint="Is this a lead sheet?",
            )
        )
    if len(bars) > MOST_BARS:
        written.problems.append(_too_long(written, f"it has more than {MOST_BARS} bars."))
    seen: set[str] = set()
    for bar in bars[:MOST_BARS]:
        if bar.meter in METERS or bar.meter in seen:
            continue
        seen.add(bar.meter)
        message = f"bar {bar.number}: {bar.meter or 'no meter'} cannot be played here."
        problem = _problem(
            written,
            message,
            found=bar.meter or "no meter",
            expected=f"one of {', '.join(METERS)}",
            hint=f"Meters are {', '.join(METERS)}.",
        )
        written.problems.append(replace(problem, line=bar.line or problem.line))
    if not written.problems:
        _check_lengths(written)


def _check_lengths(written: WrittenTune) -> None:
    """Refuse a tune whose overlong bars, cut to their meters, are too many."""
    count = 0
    for bar in written.bars:
        count += -(-bar.length // Meter.parse(bar.meter).bar)
        if count > MOST_BARS:
            message = f"its long bars, cut to their meters, make more than {MOST_BARS} bars."
            problem = _too_long(written, message)
            written.problems.append(replace(problem, line=bar.line or problem.line))
            return


def _no_chords(written: WrittenTune, message: str) -> Problem:
    return _problem(
        written,
        message,
        found="no chord symbols",
        expected="chord symbols over the bars, as on a lead sheet",
        hint="Write them over the melody and read it again, or type a tune file.",
    )


def _too_long(written: WrittenTune, message: str) -> Problem:
    return _problem(
        written,
        message,
        found="too many bars",
        expected=f"at most {MOST_BARS} bars",
        hint="Is it a tune? Look at its repeat signs and endings.",
    )


def _problem(written: WrittenTune, message: str, found: str, expected: str, hint: str) -> Problem:
    return Problem(
        f"{written.title!r}: {message}",
        line=written.line,
        found=found,
        expected=expected,
        hint=hint,
    )


def _before_the_first(written: WrittenTune, played: Sequence[FormLayout]) -> None:
    """Add a notice when the music begins without a chord or a chord stands over the pickup."""
    opening = played[0]
    first = next(layout for layout in played if layout.bars).bars[0]
    first_chord = min(first.chords, key=lambda chord: chord.onset, default=None)
    at_once = first_chord is not None and first_chord.onset == 0
    if opening.pickup_chord is not None:
        symbol = opening.pickup_chord.symbol or NO_CHORD
        becomes = "is left out" if at_once else "begins with the next bar"
        number = written.bars[opening.first].number
        written.notice(number, f"nobody plays with a pickup; {symbol} over it {becomes}")
    elif not at_once and (first_chord is None or first_chord.symbol is not None):
        written.notice(first.number, "no chord symbol stands at its start; nobody plays before one")


def _unplayed(written: WrittenTune, order: Sequence[int]) -> None:
    played = set(order)
    for index, bar in enumerate(written.bars):
        if index not in played:
            written.notice(bar.number, "the repeat signs never lead to it; it is left out")


def _tempo(written: WrittenTune, meter: Meter) -> float:
    """Beats a minute, within what a tune file allows."""
    if written.tempo is None:
        written.say(f"no tempo is given; {USUAL_BPM:g} beats a minute are taken")
        return USUAL_BPM
    beats = float(written.tempo / meter.beat)
    within = min(max(beats, SLOWEST_BPM), FASTEST_BPM)
    if within != beats:
        written.say(f"a tempo of {beats:g} beats a minute becomes {within:g}")
    return round(within, 2)


def _pickup(written: WrittenTune, opening: FormLayout, meter: Meter) -> Fraction:
    """The pickup before the first bar, in whole notes."""
    if FINEST % opening.pickup.denominator or opening.pickup >= meter.bar:
        number = written.bars[opening.first].number
        written.notice(number, f"a pickup of {opening.pickup} of a whole note is left out")
        return Fraction(0)
    return opening.pickup
