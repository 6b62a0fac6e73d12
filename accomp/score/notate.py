"""The bridge to paper: an arrangement becomes measures of written events.

Conventions: the written rhythm is exact; swing and looseness never show in it. A chord tone keeps
the name it has in its chord, any other note the usual name in the key. On parts for instruments
written an octave above their sound the clef carries a small 8 below, and the encoded pitch is the
sounding one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction

from accomp.harmony import Pitch
from accomp.score.arrangement import ArrangedBar, Arrangement, BandStroke
from accomp.score.notate_accidentals import with_accidentals
from accomp.score.notate_rhythm import Sounding, written_bar
from accomp.score.notate_strums import strum_sounds
from accomp.score.written import ChordMark, Clef, Measure, Part, Score, WrittenNote
from accomp.time import Span

BASS_PROGRAM = 33  # General MIDI "Acoustic Bass"
_TAB = Clef("TAB", 5)


def notate(arrangement: Arrangement) -> Score:
    """The strummed part in notation and TAB, and the bass where there is one."""
    instrument = arrangement.instrument
    program = instrument.program
    notation = _part_measures(arrangement, lambda bar: strum_sounds(bar, instrument))
    tab = _without_marks(notation)
    parts = [
        Part(
            name=instrument.title,
            kind="notation",
            clef=Clef("G", 2, -instrument.octave),
            program=program,
            measures=notation,
            instrument=instrument,
        ),
        Part(
            name="TAB",
            kind="tab",
            clef=_TAB,
            program=program,
            measures=tab,
            instrument=instrument,
            silent=True,
        ),
    ]
    if any(bar.bass for bar in arrangement.bars):
        bass = _part_measures(arrangement, _bass)
        parts.append(Part("Bass", "bass", Clef("F", 4, -1), BASS_PROGRAM, _without_marks(bass)))
    style = arrangement.bars[0].style if arrangement.bars else None
    return Score(
        title=arrangement.title,
        composer=arrangement.composer,
        tempo=arrangement.tempo,
        beat=arrangement.beat,
        swing=style.swing_at(arrangement.tempo) if style else 1.0,
        feel=style.title if style else "",
        parts=tuple(parts),
        bracketed=2,
    )


def _without_marks(measures: tuple[Measure, ...]) -> tuple[Measure, ...]:
    """The same measures for a part that stands under another one with the marks."""
    return tuple(replace(measure, chords=(), rehearsal="", words="") for measure in measures)


def _part_measures(
    arrangement: Arrangement, sounds_of: Callable[[ArrangedBar], list[Sounding]]
) -> tuple[Measure, ...]:
    bars = arrangement.bars
    measures = []
    if arrangement.pickup and bars:
        measures.append(_pickup(arrangement.pickup, bars[0]))
    before: ArrangedBar | None = None
    for bar, after in zip(bars, [*bars[1:], None], strict=True):
        measures.append(_measure(bar, before, after, sounds_of(bar), pickup=arrangement.pickup))
        before = bar
    return tuple(measures)


def _pickup(length: Fraction, first: ArrangedBar) -> Measure:
    meter = first.bar.meter
    events = written_bar(meter, Span(meter.bar - length, meter.bar), ())
    key = first.bar.key
    return Measure(0, length, meter, key, events, new_meter=True, new_key=True)


def _measure(
    arranged: ArrangedBar,
    before: ArrangedBar | None,
    after: ArrangedBar | None,
    sounds: Sequence[Sounding],
    pickup: Fraction,
) -> Measure:
    bar = arranged.bar
    start = bar.start
    marks = tuple(
        ChordMark(change.span.start - start, change.chord, change.shape)
        for change in arranged.changes
        if change.written
    )
    events = written_bar(
        bar.meter, Span(Fraction(0), bar.meter.bar), sounds, [mark.start for mark in marks]
    )
    opens_piece = before is None and not pickup
    new_style = before is not None and before.style.title != arranged.style.title
    return Measure(
        number=bar.number,
        length=bar.meter.bar,
        meter=bar.meter,
        key=bar.key,
        events=with_accidentals(bar.key, events),
        chords=marks,
        new_meter=opens_piece or (before is not None and before.bar.meter != bar.meter),
        new_key=opens_piece or (before is not None and before.bar.key != bar.key),
        rehearsal=bar.section if bar.opens else "",
        words=arranged.style.title if new_style else "",
        barline="final" if after is None else "double" if after.bar.opens else "regular",
    )


def _bass(arranged: ArrangedBar) -> list[Sounding]:
    start = arranged.bar.start
    return [
        Sounding(
            span=stroke.span.shifted(-start),
            notes=(WrittenNote(_bass_pitch(stroke, arranged)),),
            marks=frozenset({"accent"} if stroke.force == "accent" else ()),
        )
        for stroke in arranged.bass
    ]


def _bass_pitch(stroke: BandStroke, arranged: ArrangedBar) -> Pitch:
    pc = stroke.pitch % 12
    for change in arranged.changes:
        if change.chord is None or stroke.span.start not in change.span:
            continue
        names = [change.chord.bass, change.chord.root]
        names += [tone.spelling for tone in change.chord.tones]
        for name in names:
            if name is not None and name.pc == pc:
                return Pitch.spelled(stroke.pitch, name)
    return Pitch.spelled(stroke.pitch, arranged.bar.key.spell(pc))
