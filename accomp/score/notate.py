"""The bridge to paper: an arrangement becomes measures of written events.

Conventions: the written rhythm is exact; swing and jitter never show in it. A chord tone keeps
the name it has in its chord, any other note the usual name in the key.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import zip_longest

from accomp.harmony import Interval
from accomp.neck import Instrument
from accomp.score.arrangement import ArrangedBar, Arrangement
from accomp.score.notate_blocks import blocks_of
from accomp.score.notate_layout import (
    TAB,
    ScoreLayout,
    read_at,
    reader_title,
    reading_interval,
    staff,
)
from accomp.score.notate_noteheads import bass_sounds, slashed, strum_sounds, with_accidentals
from accomp.score.notate_rests import with_long_rests
from accomp.score.notate_rhythm import Sounding, written_bar
from accomp.score.notate_road import folded
from accomp.score.readers import PlayerPart, Reader
from accomp.score.written import Barline, ChordMark, Clef, Mark, Measure, Part, PartKind, Score
from accomp.time import Span

BASS_PROGRAM = 33  # General MIDI "Acoustic Bass"
_ON_STAFF: frozenset[PlayerPart] = frozenset({"both", "notation", "slash"})
_AS_TAB: frozenset[PlayerPart] = frozenset({"both", "tab"})


@dataclass(frozen=True)
class _PartSource:
    """One part to be written: its look, its sounds, its reader, and how many octaves above the
    sound it is written."""

    part: Part
    sounds: Callable[[ArrangedBar], list[Sounding]]
    reader: Reader = "concert"
    octaves: int = 0


def notate(arrangement: Arrangement, layout: ScoreLayout | None = None) -> Score:
    """Write the arrangement down; by default the strummed part in notation and TAB, and the bass
    where there is one. Raises `ValueError` when the layout leaves no part."""
    layout = layout or ScoreLayout()
    sources = _sources(arrangement, layout)
    rows: list[list[Measure]] = []
    for i, source in enumerate(sources):
        same = next((j for j in range(i) if sources[j].sounds is source.sounds), None)
        concert = rows[same] if same is not None else list(_measures(arrangement, source))
        rows.append(concert)
    rows = [
        [_read(measure, source) for measure in row]
        for row, source in zip(rows, sources, strict=True)
    ]
    columns = [tuple(column) for column in zip(*rows, strict=True)]
    if layout.fold:
        columns = folded(columns, blocks_of(arrangement.bars, pickup=bool(arrangement.pickup)))
    columns = with_long_rests(columns)
    style = arrangement.bars[0].style if arrangement.bars else None
    return Score(
        title=arrangement.title,
        composer=arrangement.composer,
        tempo=arrangement.tempo,
        beat=arrangement.beat,
        swing=style.swing_at(arrangement.tempo) if style else 1.0,
        feel=style.title if style else "",
        parts=tuple(
            replace(
                source.part, measures=_finished(source.part, [column[i] for column in columns], i)
            )
            for i, source in enumerate(sources)
        ),
        bracketed=2 if layout.player == "both" else 0,
    )


def _sources(arrangement: Arrangement, layout: ScoreLayout) -> list[_PartSource]:
    instrument = arrangement.instrument
    sources = []

    def strums(bar: ArrangedBar) -> list[Sounding]:
        return strum_sounds(bar, instrument)

    if layout.player in _ON_STAFF:
        kind = PartKind.SLASH if layout.player == "slash" else PartKind.NOTATION
        clef, octaves = staff(layout, instrument)
        part = _part(reader_title(layout.reader) or instrument.title, kind, clef, instrument)
        sources.append(_PartSource(part, strums, layout.reader, octaves))
    if layout.player in _AS_TAB:
        both = layout.player == "both"
        title = "TAB" if both else instrument.title
        sources.append(
            _PartSource(replace(_part(title, PartKind.TAB, TAB, instrument), silent=both), strums)
        )
    if layout.bass and any(bar.bass for bar in arrangement.bars):
        sources.append(
            _PartSource(
                Part("Bass", PartKind.BASS, Clef("F", 4, -1), BASS_PROGRAM, ()), bass_sounds
            )
        )
    if not sources:
        raise ValueError(f"a score of {arrangement.title!r} would have no part")
    return sources


def _part(title: str, kind: PartKind, clef: Clef, instrument: Instrument) -> Part:
    return Part(title, kind, clef, instrument.program, (), instrument)


def _measures(arrangement: Arrangement, source: _PartSource) -> Iterator[Measure]:
    """The measures of a part as they sound, a pickup first, without accidentals."""
    bars = arrangement.bars
    if arrangement.pickup and bars:
        yield _pickup(arrangement.pickup, bars[0])
    before: ArrangedBar | None = None
    rows = _by_bar(bars, [source.sounds(bar) for bar in bars])
    slower = len(bars) - arrangement.ritard if arrangement.ritard else -1
    for i, (bar, after) in enumerate(zip(bars, [*bars[1:], None], strict=True)):
        measure = _measure(bar, before, after, rows[i], arrangement.pickup)
        if i == slower:
            measure = replace(measure, words=", ".join(filter(None, (measure.words, "rit."))))
        yield measure
        before = bar


def _by_bar(
    bars: Sequence[ArrangedBar], sounds: Sequence[Sequence[Sounding]]
) -> list[list[Sounding]]:
    """The sounds of each bar, counted from its bar line: each is cut where the next one begins,
    and tied over a bar line where it goes on."""
    if all(
        row[-1].span.end <= bar.bar.meter.bar for bar, row in zip(bars, sounds, strict=True) if row
    ):
        return [[_cut(one, after) for one, after in zip_longest(row, row[1:])] for row in sounds]
    rows: list[list[Sounding]] = [[] for _ in bars]
    flat = [(i, sound) for i, row in enumerate(sounds) for sound in row]
    for (i, sound), following in zip(flat, [*flat[1:], None], strict=True):
        end = bars[i].bar.start + sound.span.end
        if following is not None:
            end = min(end, bars[following[0]].bar.start + following[1].span.start)
        start = bars[i].bar.start + sound.span.start
        while start < end and i < len(bars):
            whole = bars[i].span
            piece = Span(start, min(end, whole.end)).shifted(-whole.start)
            on = end > whole.end and i + 1 < len(bars)
            rows[i].append(replace(sound, span=piece, tied_to=on))
            sound = replace(sound, tied_from=True, direction=None, marks=sound.marks & {Mark.DEAD})
            start, i = whole.end, i + 1
    return rows


def _cut(sound: Sounding, after: Sounding | None) -> Sounding:
    """A sound up to the next one in its bar."""
    if after is None or sound.span.end <= after.span.start:
        return sound
    return replace(sound, span=Span(sound.span.start, after.span.start))


def _read(measure: Measure, source: _PartSource) -> Measure:
    return read_at(measure, reading_interval(source.reader, measure.key), source.octaves)


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
    return Measure(
        number=bar.number,
        length=bar.meter.bar,
        meter=bar.meter,
        key=bar.key,
        events=events,
        chords=marks,
        new_meter=opens_piece or (before is not None and before.bar.meter != bar.meter),
        new_key=opens_piece or (before is not None and before.bar.key != bar.key),
        rehearsal=bar.section if bar.opens else "",
        added=arranged.added,
        words=_words(arranged, before),
        barline=(
            Barline.FINAL
            if after is None
            else Barline.DOUBLE
            if after.bar.opens
            else Barline.REGULAR
        ),
    )


def _words(arranged: ArrangedBar, before: ArrangedBar | None) -> str:
    """The style's title, where the style changes."""
    if before is None or before.style.title == arranged.style.title:
        return ""
    return arranged.style.title


def _finished(part: Part, measures: Sequence[Measure], index: int) -> tuple[Measure, ...]:
    """The measures as printed: with slashes and accidentals; chord symbols, words and signs stand
    over the first part only."""
    out = []
    transpose: Interval | None = None
    for i, measure in enumerate(measures):
        events = measure.events
        if part.kind == PartKind.SLASH:
            events = slashed(events, part.clef, measure.key)
        elif part.kind != PartKind.TAB:
            events = with_accidentals(measure.key, events)
        new = measure.transpose if i == 0 or measure.transpose != transpose else None
        transpose = measure.transpose
        measure = replace(measure, events=events, transpose=new)
        if index:
            measure = replace(
                measure, chords=(), rehearsal="", words="",
                segno=False, coda=False, to_coda=False, fine=False, jump=None,
            )  # fmt: skip
        out.append(measure)
    return tuple(out)
