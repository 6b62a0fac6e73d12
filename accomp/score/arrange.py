"""Arrange: a tune, a plan for each chorus and its styles become strokes and band parts per bar.

Conventions: score time counts from the first full bar. A style's pattern is counted from the
section's first bar, so that a two-bar pattern starts anew with each section. A chord that changes
inside a bar is heard there: the stroke that would ring over the change is cut, and a chord that
no stroke of the pattern reaches gets one of its own, but in stop-time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from accomp.neck import Instrument, Plan
from accomp.rhythm import Style
from accomp.rhythm.bass import BandBar, bass_line
from accomp.rhythm.comping import comp_line
from accomp.rhythm.general_midi import drum_hits
from accomp.rhythm.passage import Playing
from accomp.rhythm.pattern import BandPattern
from accomp.rhythm.stroke import Technique, louder
from accomp.rhythm.strum import choose_strings, written_strokes
from accomp.score.arrangement import ArrangedBar, Arrangement, BandStroke, ChordChange, Strum
from accomp.score.course import melody_strokes, places, with_tag
from accomp.score.planning import TuneChords
from accomp.time import Meter
from accomp.tune import PlayedBar, Tune, unfold
from accomp.tune.melody import MelodyNote

Styles = Mapping[tuple[str | None, Meter], Style]


@dataclass(frozen=True, slots=True)
class Rendition:
    """How a tune is to be played this time.

    `tempo`, in beats a minute of the tune's meter, replaces the tune's own; `seed` is for what is
    left to chance. Without `ending` the last bar is played like any other, in tempo and without a
    tag. A `melody`, in the key of the tune, is laid over every chorus.
    """

    tempo: float | None = None
    seed: int = 0
    ending: bool = True
    melody: Sequence[MelodyNote] = ()


AS_WRITTEN = Rendition()


def arrange(
    tune: Tune,
    chords: TuneChords,
    plans: Sequence[Plan],
    styles: Styles,
    instrument: Instrument,
    rendition: Rendition = AS_WRITTEN,
) -> Arrangement:
    """Arrange as many choruses as there are `plans`.

    `styles` maps the style name and the meter of each played bar (None where the tune names no
    style) to the style.
    """
    ending = rendition.ending
    unfolded = unfold(tune, len(plans))
    per_chorus = len(unfolded) // len(plans)
    last = styles[unfolded[-1].style, unfolded[-1].meter].ending
    bars = with_tag(unfolded, last.tag if ending else 0)
    names = places([bar for bar, _ in bars])
    laid, playing = [], []
    for number, ((bar, index), place) in enumerate(zip(bars, names, strict=True), 1):
        style = styles[bar.style, bar.meter]
        changes = _changes(bar, chords.spans[index % per_chorus], plans[bar.chorus - 1])
        laid.append(ArrangedBar(bar, style, changes, place))
        final = ending and number == len(bars)
        playing.append(style.playing(bar.section_bar, bar.chorus, len(plans), final=final))
    made = Arrangement(
        title=tune.title,
        composer=tune.composer,
        key=tune.key,
        tempo=tune.tempo if rendition.tempo is None else rendition.tempo,
        beat=tune.meter.beat,
        pickup=tune.pickup,
        instrument=instrument,
        plans=tuple(plans),
        bars=_with_strokes(laid, playing, len(instrument.strings), rendition.seed),
        notices=chords.notices + tuple(dict.fromkeys(n for plan in plans for n in plan.notices)),
        ritard=min(last.ritard, len(laid)) if ending else 0,
        slow_to=last.slow_to if ending else 1.0,
        seed=rendition.seed,
        melody=melody_strokes(
            [(bar, unfolded[index % per_chorus]) for bar, index in bars], rendition.melody
        ),
    )
    used = {each.style.name: each.style for each in laid}
    unlike = [style.unlike(made.tempo_of(style)) for style in used.values()]
    return replace(made, notices=(*made.notices, *filter(None, unlike)))


def _changes(
    bar: PlayedBar, indices: tuple[int | None, ...], plan: Plan
) -> tuple[ChordChange, ...]:
    """The chords of a bar with their shapes, in score time."""
    return tuple(
        ChordChange(
            span=item.span.shifted(bar.start),
            chord=item.chord,
            shape=None if index is None else plan.path[index],
            written=item.written,
        )
        for item, index in zip(bar.chords, indices, strict=True)
    )


def _with_strokes(
    bars: Sequence[ArrangedBar], playing: Sequence[Playing], strings: int, seed: int
) -> tuple[ArrangedBar, ...]:
    """The bars with what everybody plays in them."""
    bass = bass_line(
        [_band_bar(b, p, p.bass) for b, p in zip(bars, playing, strict=True)], seed=seed
    )
    comping = comp_line([_band_bar(b, p, p.comping) for b, p in zip(bars, playing, strict=True)])
    rows = zip(
        bars,
        playing,
        _by_bar(bars, playing, [BandStroke(n.span, n.pitch, n.force) for n in bass]),
        _by_bar(
            bars,
            playing,
            [BandStroke(n.span, pitch, n.force) for n in comping for pitch in n.pitches],
        ),
        strict=True,
    )
    return tuple(
        replace(
            bar,
            strums=tuple(_strums(bar, one, strings)),
            bass=low,
            drums=_drums(bar, one),
            comping=chords,
        )
        for bar, one, low, chords in rows
    )


def _strums(bar: ArrangedBar, playing: Playing, strings: int) -> list[Strum]:
    """The strokes of a bar, each cut where the chord changes."""
    pattern, turn = playing.strum
    if not pattern.strokes:
        return []
    to_pattern = turn - bar.bar.start
    strums: list[Strum] = []
    last = pattern.strokes[0]
    for change in bar.sounding():
        assert change.chord is not None, "N.C. does not sound"
        if change.shape is None:
            continue
        span = change.span.shifted(to_pattern)
        strokes = list(pattern.during(span))
        if not strokes and change.written and not playing.stop_time:
            strokes = [
                replace(last, span=span, strings="all", technique=Technique.STROKE, value=None)
            ]
        sounding = tuple(i for i, fret in enumerate(change.shape.frets) if fret is not None)
        for stroke in strokes:
            last = stroke
            chosen = choose_strings(stroke.strings, sounding, stroke.direction, strings=strings)
            for written, struck in written_strokes(stroke, chosen):
                strums.append(
                    Strum(
                        span=written.span.shifted(-to_pattern),
                        shape=change.shape,
                        chord=change.chord,
                        strings=struck,
                        direction=written.direction,
                        force=louder(written.force, playing.louder),
                        sound=written.sound,
                        technique=written.technique,
                        value=written.value,
                    )
                )
    return strums


def _band_bar(
    bar: ArrangedBar, playing: Playing, part: tuple[BandPattern, Fraction] | None
) -> BandBar:
    pattern, turn = part or (None, Fraction(0))
    return BandBar(
        span=bar.span,
        changes=tuple((change.span, change.chord) for change in bar.changes),
        pattern=pattern,
        turn=turn,
        place=bar.place,
        stop_time=playing.stop_time,
    )


def _by_bar(
    bars: Sequence[ArrangedBar], playing: Sequence[Playing], line: Sequence[BandStroke]
) -> list[tuple[BandStroke, ...]]:
    """A line over all bars, divided among them, each note as loud as its bar asks."""
    rows: list[list[BandStroke]] = [[] for _ in bars]
    index = 0
    for stroke in line:
        while stroke.span.start >= bars[index].span.end:
            index += 1
        force = louder(stroke.force, playing[index].louder)
        rows[index].append(replace(stroke, force=force))
    return [tuple(row) for row in rows]


def _drums(bar: ArrangedBar, playing: Playing) -> tuple[BandStroke, ...]:
    """The drums of a bar; they too are silent under N.C."""
    if playing.drums is None:
        return ()
    pattern, turn = playing.drums
    to_pattern = turn - bar.bar.start
    return tuple(
        BandStroke(hit.span.shifted(-to_pattern), hit.key, louder(hit.force, playing.louder))
        for change in bar.sounding()
        for hit in drum_hits(change.span.shifted(to_pattern), pattern)
    )
