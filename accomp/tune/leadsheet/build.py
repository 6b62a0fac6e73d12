"""A lead sheet as written turned into a tune: full bars, sections, a form.

Conventions: a section is a run of bars that is always played through; two runs of the same chords
are one section, played twice. Sections are named by their rehearsal marks, else A, B, C ...;
endings by their passage and number: A-1, A-2.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from accomp.errors import Problem
from accomp.harmony import NO_CHORD, Chord
from accomp.time import FASTEST_BPM, METERS, MOST_BARS, SLOWEST_BPM, Meter
from accomp.tune.leadsheet.grid import bar_of, chord_of
from accomp.tune.leadsheet.layout import FormLayout, Surveyor
from accomp.tune.leadsheet.names import section_names
from accomp.tune.leadsheet.rejoin import rejoined
from accomp.tune.leadsheet.road import EndlessRoadError, playing_order, segments
from accomp.tune.leadsheet.written import WrittenTune
from accomp.tune.model import Bar, Section, Tune

DEFAULT_BPM = 120
_FINEST = 192  # a pickup must be a whole number of these parts of a whole note


@dataclass(frozen=True)
class Built:
    """A tune and the segments it was made of, in the order played (for the melody)."""

    tune: Tune
    played: tuple[FormLayout, ...]


def build_tune(written: WrittenTune) -> Built | None:
    """The tune; None when it cannot be one, `written.problems` then say why."""
    _check(written)
    if written.problems:
        return None
    try:
        order = playing_order(written)
    except EndlessRoadError:
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
    played = [layouts[index] for index in order if index in layouts]
    _before_the_first(written, played)
    if sum(len(layout.bars) for layout in played) > MOST_BARS:
        message = f"played through, it has more than {MOST_BARS} full bars."
        written.problems.append(_too_long(written, message))
        return None
    sections, form = _sections(written, played)
    if not any(
        span.chord for part in sections.values() for bar in part.bars for span in bar.chords
    ):
        written.problems.append(_no_chords(written, "none of its chord symbols can be played."))
        return None
    opening = next(layout for layout in played if layout.bars)
    meter = opening.meter
    tune = Tune(
        title=written.title,
        key=written.bars[opening.first].key,
        meter=meter,
        tempo=_tempo(written, meter),
        sections=sections,
        form=form,
        composer=written.composer,
        pickup=_pickup(written, played[0], meter),
        notices=(),
    )
    return Built(tune, tuple(played))


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
    elif not any(chord.symbol for bar in bars for chord in bar.chords):
        written.problems.append(_no_chords(written, "it has no chord symbols."))
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
    """Bars that hold more than their meter become several, before anything is laid out."""
    count = 0
    for bar in written.bars:
        count += max(1, -(-bar.length // Meter.parse(bar.meter).bar))
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
    """Say so when the music begins without a chord, and when a chord stands over the pickup."""
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


def _sections(
    written: WrittenTune, played: Sequence[FormLayout]
) -> tuple[dict[str, Section], tuple[str, ...]]:
    """Sections by name, in the order first played, and the form."""
    made: dict[int, tuple[Bar, ...]] = {}
    entered: dict[int, Chord | None] = {}
    before: Chord | None = None
    for layout in played:
        before = _after_pickup(layout, before)
        if not layout.bars:
            continue
        if layout.first not in made:
            entered[layout.first] = before
            made[layout.first] = _bars(written, layout, before)
        elif before != entered[layout.first] and _goes_on(layout):
            written.notice(
                layout.bars[0].number,
                f"{entered[layout.first] or NO_CHORD} goes on into it the first time and "
                f"{before or NO_CHORD} later; the first is kept",
            )
        before = made[layout.first][-1].chords[-1].chord
    names = section_names(written.bars, [layout for layout in played if layout.bars], made)
    sections: dict[str, Section] = {}
    for layout in played:
        if layout.bars and names[layout.first] not in sections:
            name = names[layout.first]
            key = written.bars[layout.first].key
            sections[name] = Section(name, made[layout.first], key, layout.meter)
    return rejoined(sections, [names[layout.first] for layout in played if layout.bars])


def _goes_on(layout: FormLayout) -> bool:
    chords = layout.bars[0].chords
    return not chords or min(chord.onset for chord in chords) > 0


def _after_pickup(layout: FormLayout, before: Chord | None) -> Chord | None:
    """What sounds when the first full bar begins: a chord over the pickup goes on into it."""
    if layout.pickup_chord is None:
        return before
    return chord_of("", layout.pickup_chord.symbol, lambda number, text: None)


def _bars(written: WrittenTune, layout: FormLayout, before: Chord | None) -> tuple[Bar, ...]:
    bars: list[Bar] = []
    for full in layout.bars:
        bar = bar_of(full, layout.meter, before, written.notice)
        before = bar.chords[-1].chord
        bars.append(bar)
    return tuple(bars)


def _tempo(written: WrittenTune, meter: Meter) -> float:
    """Beats a minute, within what a tune file allows."""
    if written.tempo is None:
        written.notices.append(f"no tempo is given; {DEFAULT_BPM} beats a minute are taken")
        return float(DEFAULT_BPM)
    beats = float(written.tempo / meter.beat)
    within = min(max(beats, SLOWEST_BPM), FASTEST_BPM)
    if within != beats:
        written.notices.append(f"a tempo of {beats:g} beats a minute becomes {within:g}")
    return round(within, 2)


def _pickup(written: WrittenTune, opening: FormLayout, meter: Meter) -> Fraction:
    """The pickup before the first bar, in whole notes."""
    if _FINEST % opening.pickup.denominator or opening.pickup >= meter.bar:
        number = written.bars[opening.first].number
        written.notice(number, f"a pickup of {opening.pickup} of a whole note is left out")
        return Fraction(0)
    return opening.pickup
