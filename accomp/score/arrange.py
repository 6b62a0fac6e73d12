"""Arrange: a tune, a plan for each chorus and its styles become strokes, bass and drums per bar.

Conventions: score time counts from the first full bar. A style's pattern is counted from the
section's first bar, so that a two-bar pattern starts anew with each section. A chord that changes
inside a bar is heard there: the stroke that would ring over the change is cut, and a chord that
no stroke of the pattern reaches gets one of its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from accomp.neck import Instrument, Plan
from accomp.rhythm import Style
from accomp.rhythm.bass import BassBar, bass_line
from accomp.rhythm.drums import drum_hits
from accomp.rhythm.strum import choose_strings
from accomp.score.arrangement import ArrangedBar, Arrangement, BandStroke, Change, Strum
from accomp.score.planning import TuneChords
from accomp.time import Meter, Span
from accomp.tune import PlayedBar, Tune, unfold


def arrange(
    tune: Tune,
    chords: TuneChords,
    plans: Sequence[Plan],
    styles: Mapping[tuple[str | None, Meter], Style],
    instrument: Instrument,
    *,
    tempo: float | None = None,
    seed: int = 0,
) -> Arrangement:
    """Arrange as many choruses as there are `plans`.

    `styles` maps the style name and the meter of each played bar (None where the tune names no
    style) to the style; `tempo`, in beats a minute of the tune's meter, replaces the tune's own.
    """
    bars = unfold(tune, len(plans))
    per_chorus = len(bars) // len(plans)
    changes = [
        _changes(bar, chords.spans[index % per_chorus], plans[bar.chorus - 1])
        for index, bar in enumerate(bars)
    ]
    bass = _bass(bars, changes, styles, seed)
    arranged = tuple(
        ArrangedBar(
            bar=bar,
            style=styles[bar.style, bar.meter],
            changes=changes[index],
            strums=tuple(_strums(bar, changes[index], styles[bar.style, bar.meter])),
            bass=bass[index],
            drums=_drums(bar, changes[index], styles[bar.style, bar.meter]),
        )
        for index, bar in enumerate(bars)
    )
    return Arrangement(
        title=tune.title,
        composer=tune.composer,
        key=tune.key,
        tempo=tune.tempo if tempo is None else tempo,
        beat=tune.meter.beat,
        pickup=tune.pickup,
        instrument=instrument,
        plans=tuple(plans),
        bars=arranged,
        notices=chords.notices + tuple(dict.fromkeys(n for plan in plans for n in plan.notices)),
    )


def _changes(bar: PlayedBar, indices: tuple[int | None, ...], plan: Plan) -> tuple[Change, ...]:
    """The chords of a bar with their shapes, in score time."""
    return tuple(
        Change(
            span=item.span.shifted(bar.start),
            chord=item.chord,
            shape=None if index is None else plan.path[index],
            written=item.written,
        )
        for item, index in zip(bar.chords, indices, strict=True)
    )


def _in_section(bar: PlayedBar, span: Span) -> Span:
    """A span of score time counted from the start of the bar's section."""
    return span.shifted(bar.section_bar * bar.meter.bar - bar.start)


def _strums(bar: PlayedBar, changes: tuple[Change, ...], style: Style) -> list[Strum]:
    """The strokes of a bar, each cut where the chord changes."""
    to_section = bar.section_bar * bar.meter.bar - bar.start
    strums: list[Strum] = []
    last = style.strum.strokes[0]
    for change in _merged(changes):
        span = change.span.shifted(to_section)
        strokes = list(style.strum.during(span))
        if not strokes and change.written:
            strokes = [replace(last, span=span, strings="all")]
        for stroke in strokes:
            last = stroke
            if change.chord is None or change.shape is None:
                continue
            sounding = tuple(i for i, fret in enumerate(change.shape.frets) if fret is not None)
            strums.append(
                Strum(
                    span=stroke.span.shifted(-to_section),
                    shape=change.shape,
                    chord=change.chord,
                    strings=choose_strings(stroke.strings, sounding, stroke.direction),
                    direction=stroke.direction,
                    force=stroke.force,
                    sound=stroke.sound,
                    manner=stroke.manner,
                    value=stroke.value,
                )
            )
    return strums


def _merged(changes: tuple[Change, ...]) -> list[Change]:
    """Neighbours with the same chord and shape as one, so that a stroke may ring across them."""
    merged: list[Change] = []
    for change in changes:
        if merged and (merged[-1].chord, merged[-1].shape) == (change.chord, change.shape):
            span = Span(merged[-1].span.start, change.span.end)
            merged[-1] = replace(merged[-1], span=span)
        else:
            merged.append(change)
    return merged


def _bass(
    bars: Sequence[PlayedBar],
    changes: Sequence[tuple[Change, ...]],
    styles: Mapping[tuple[str | None, Meter], Style],
    seed: int,
) -> list[tuple[BandStroke, ...]]:
    """The bass line of the whole performance, bar by bar."""
    line = bass_line(
        [
            BassBar(
                span=Span(bar.start, bar.start + bar.meter.bar),
                changes=tuple((change.span, change.chord) for change in row),
                pattern=styles[bar.style, bar.meter].bass,
                turn=bar.section_bar * bar.meter.bar,
                place=f"{bar.chorus}/{bar.section}/{bar.section_bar}",
            )
            for bar, row in zip(bars, changes, strict=True)
        ],
        seed=seed,
    )
    rows: list[list[BandStroke]] = [[] for _ in bars]
    index = 0
    for note in line:
        while note.span.start >= bars[index].start + bars[index].meter.bar:
            index += 1
        rows[index].append(BandStroke(note.span, note.pitch, note.force))
    return [tuple(row) for row in rows]


def _drums(bar: PlayedBar, changes: tuple[Change, ...], style: Style) -> tuple[BandStroke, ...]:
    """The drums of a bar; they too are silent under N.C."""
    if style.drums is None:
        return ()
    to_section = bar.section_bar * bar.meter.bar - bar.start
    return tuple(
        BandStroke(hit.span.shifted(-to_section), hit.key, hit.force)
        for change in _merged(changes)
        if change.chord is not None
        for hit in drum_hits(change.span.shifted(to_section), style.drums)
    )
