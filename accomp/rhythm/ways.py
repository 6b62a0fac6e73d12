"""Other ways to begin and to end in a style, made from the patterns of its players.

Conventions: each function returns the style with another lead-in or another ending; everything else
stays. Common practice, no source: a roll-off leads in with a bar of the snare drum that thickens
and grows to the bar line; a pick-up is its last beat alone; a short stop is one hit of all
players, struck and stopped; a ritard slows over the last two bars into a chord that is rolled.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from accomp.rhythm.pattern import BandNote, BandPattern, NoteLength, Pattern
from accomp.rhythm.stroke import ForceStep, Stroke, StrokeSound, Technique
from accomp.rhythm.style import Style
from accomp.time import Meter, Span

_RITARD_BARS, _SLOW_TO = 2, 0.65
_TAGS = 1
# What does not lead in: the bass drum, and the wood blocks, which count in.
_NO_LEADERS = ("bass-drum", "acoustic-bass-drum", "hi-wood-block", "low-wood-block")
_SHORTEST = Fraction(1, 16)  # of a whole note: a roll is no faster than that


def roll_off(style: Style) -> Style:
    """The drums lead in with a bar: the beats, then twice as many strokes from its middle on."""
    meter, drum = style.meter, _lead_drum(style)
    if drum is None:
        return style
    beats = meter.beats // 2
    half = meter.beat * beats
    starts = [meter.beat * beat for beat in range(beats)]
    step = _step(meter)
    starts += [half + step * number for number in range(int((meter.bar - half) / step))]
    return replace(style, lead_in=_growing(meter, starts, drum))


def pick_up(style: Style) -> Style:
    """The drums lead in with the last beat of the bar before."""
    meter, drum = style.meter, _lead_drum(style)
    if drum is None:
        return style
    step = _step(meter)
    start = meter.bar - meter.beat
    starts = [start + step * number for number in range(int(meter.beat / step))]
    return replace(style, lead_in=_growing(meter, starts, drum))


def slowing(style: Style) -> Style:
    """The style with an ending that slows, without a tag."""
    own = style.ending
    bars, slow_to = max(own.ritard, _RITARD_BARS), own.slow_to if own.ritard else _SLOW_TO
    slowed = replace(style, ending=replace(own, ritard=bars, slow_to=slow_to))
    rolled = Stroke(_bar(style), force=ForceStep.HEAVY, technique=Technique.ROLL)
    return _ending_together(slowed, rolled, NoteLength.LONG, ForceStep.PLAIN)


def stopping(style: Style) -> Style:
    """The style with a last bar of one short hit, in tempo and without a tag."""
    # The heel of the hand, since open strings cannot be choked.
    hit = Stroke(_bar(style), force=ForceStep.ACCENT, sound=StrokeSound.HEEL)
    in_tempo = replace(style, ending=replace(style.ending, ritard=0, slow_to=1.0))
    return _ending_together(in_tempo, hit, NoteLength.STOP, ForceStep.ACCENT)


def tagged(style: Style) -> Style:
    """The style with its tag, or with one where it has none, in tempo."""
    own = style.ending
    return replace(style, ending=replace(own, tag=own.tag or _TAGS, ritard=0, slow_to=1.0))


def _ending_together(style: Style, stroke: Stroke, sound: NoteLength, drums: ForceStep) -> Style:
    """The style with a last bar that all players strike once, without a tag."""
    ending = replace(
        style.ending,
        tag=0,
        strum=Pattern(style.meter.bar, (stroke,)),
        bass=_struck(style, style.bass, "root", sound),
        drums=_all_drums(style, drums),
        comping=_struck(style, style.comping, "chord", sound),
    )
    return replace(style, ending=ending)


def _bar(style: Style) -> Span:
    return Span(Fraction(0), style.meter.bar)


def _step(meter: Meter) -> Fraction:
    """From one stroke of a roll to the next: thirds of a dotted beat, halves of a plain one."""
    return max(meter.beat / (3 if meter.compound else 2), _SHORTEST)


def _lead_drum(style: Style) -> str | None:
    """The drum that leads in, None without drums: the snare, unless the style has none and strikes
    other drums that can lead; then the one it strikes most often."""
    if style.drums is None or not style.drums.notes:
        return None
    struck = [note.what for note in style.drums.notes]
    others = [what for what in struck if what not in _NO_LEADERS]
    if "snare" in struck or not others:
        return "snare"
    return max(dict.fromkeys(others), key=others.count)


def _growing(meter: Meter, starts: list[Fraction], drum: str) -> BandPattern:
    """Strokes from light to accented."""
    steps = (ForceStep.LIGHT, ForceStep.PLAIN, ForceStep.HEAVY, ForceStep.ACCENT)
    last = len(starts) - 1
    notes = [
        # The last stroke is the strongest, however few there are.
        BandNote(at, drum, steps[-1 - (last - index) * len(steps) // (last + 1)])
        for index, at in enumerate(starts)
    ]
    return BandPattern(meter.bar, tuple(notes))


def _struck(
    style: Style, player: BandPattern | None, what: str, sound: NoteLength
) -> BandPattern | None:
    if player is None:
        return None
    note = BandNote(Fraction(0), what, ForceStep.HEAVY, sound)
    return BandPattern(style.meter.bar, (note,), player.player)


def _all_drums(style: Style, force: ForceStep) -> BandPattern | None:
    """The drums of the first place that the pattern strikes, all together on one."""
    if style.drums is None or not style.drums.notes:
        return None
    first = style.drums.notes[0].start
    struck = dict.fromkeys(note.what for note in style.drums.notes if note.start == first)
    notes = tuple(BandNote(Fraction(0), what, force) for what in struck)
    return BandPattern(style.meter.bar, notes)
