"""Arrange: a tune, its styles and a plan for each chorus become strokes and band parts per bar.

Conventions: score time counts from the first full bar. A style's pattern is counted from the
section's first bar, so that a two-bar pattern starts anew with each section. A chord that changes
inside a bar is heard there (`accomp.score.strumming`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from accomp.neck import Instrument, Plan
from accomp.rhythm import Style
from accomp.rhythm.bass import BandBar, bass_line
from accomp.rhythm.comping import comp_line
from accomp.rhythm.general_midi import DrumHit, drum_hits, percussion_key
from accomp.rhythm.passage import Playing
from accomp.rhythm.pattern import Approach, BandPattern
from accomp.rhythm.stroke import louder
from accomp.rhythm.ways import pick_up, roll_off, slowing, stopping, tagged
from accomp.score.arrangement import (
    ArrangedBar,
    Arrangement,
    BandStroke,
    ChordChange,
    MelodyStroke,
)
from accomp.score.course import CourseBar, addresses, course, melody_strokes, section_lengths
from accomp.score.planning import TuneChords
from accomp.score.strumming import strum_bars
from accomp.time import Meter, Span
from accomp.tune import Beginning, Finish, PlayedBar, Stage, Tune, unfold
from accomp.tune.melody import MelodyNote

Styles = Mapping[tuple[str | None, Meter], Style]


@dataclass(frozen=True, slots=True)
class Rendition:
    """How a tune is to be played this time.

    `tempo`, in beats a minute of the tune's meter, replaces the tune's own; `seed` decides all
    random choices. Without `ending` nothing is put before or after the tune (no vamp, no tag), and
    its last bar is played like any other, in tempo. A `melody`, in the key of the tune, is laid
    over every chorus.
    """

    tempo: float | None = None
    seed: int = 0
    ending: bool = True
    melody: Sequence[MelodyNote] = ()


AS_WRITTEN = Rendition()
# Where a tune chooses none, it has its style's lead-in and ending. A vamp is not in this table: it
# consists of bars, not of changes to the style (`accomp.score.course`).
_BEGIN: dict[Beginning, Callable[[Style], Style]] = {"roll-off": roll_off, "pick-up": pick_up}
_END: dict[Finish, Callable[[Style], Style]] = {
    "ritard": slowing, "short-stop": stopping, "tag": tagged
}  # fmt: skip


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
    styles = {name: _as_asked(style, tune) for name, style in styles.items()}
    unfolded = unfold(tune, len(plans))
    last = styles[unfolded[-1].style, unfolded[-1].meter].ending
    vamp = tune.begin == "vamp" and ending
    tags = last.tag if ending and (not tune.coda or tune.end == "tag") else 0
    bars = course(unfolded, chords, vamp=vamp, tags=tags, resolve=ending)
    led_in = vamp or isinstance(tune.intro, int)
    played = [item.bar for item in bars]
    laid, playing = [], []
    rows = zip(bars, addresses(played), section_lengths(played), strict=True)
    for item, address, length in rows:
        bar = item.bar
        style = styles[bar.style, bar.meter]
        changes = _changes(bar, item.spans, plans[bar.chorus - 1])
        laid.append(ArrangedBar(bar, style, changes, address, added=item.added))
        final = ending and item is bars[-1]
        if item.added or bar.spot.stage in (Stage.INTRO, Stage.CODA):
            style = style.played_through()  # stop-time counts the bars of a chorus
        playing.append(
            style.playing(bar.section_bar, bar.chorus, len(plans), section_bars=length, final=final)
        )
    made = Arrangement(
        title=tune.title,
        composer=tune.composer,
        key=tune.key,
        tempo=tune.tempo if rendition.tempo is None else rendition.tempo,
        beat=tune.meter.beat,
        pickup=Fraction(0) if led_in else tune.pickup,  # it sounds in the last bar before the tune
        instrument=instrument,
        plans=tuple(plans),
        bars=_with_strokes(laid, playing, len(instrument.strings), rendition.seed),
        notices=chords.notices + tuple(dict.fromkeys(n for plan in plans for n in plan.notices)),
        ritard=min(last.ritard, len(laid)) if ending else 0,
        slow_to=last.slow_to if ending else 1.0,
        seed=rendition.seed,
        melody=_melody(bars, tune, rendition.melody),
    )
    used = {each.style.name: each.style for each in laid}
    unlike = [style.unlike(made.tempo_of(style)) for style in used.values()]
    return replace(made, notices=(*made.notices, *filter(None, unlike)))


def _as_asked(style: Style, tune: Tune) -> Style:
    """The style with the lead-in and the ending that the tune chooses."""
    if tune.begin in _BEGIN:
        style = _BEGIN[tune.begin](style)
    return style if tune.end is None else _END[tune.end](style)


def _melody(
    bars: Sequence[CourseBar], tune: Tune, notes: Sequence[MelodyNote]
) -> tuple[MelodyStroke, ...]:
    own = tune if isinstance(tune.intro, str) else replace(tune, intro=None)
    return melody_strokes(bars, notes, unfold(own)) if notes else ()


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
    """The bars with their strokes and band parts."""
    bass = bass_line(
        [_band_bar(b, p, p.bass) for b, p in zip(bars, playing, strict=True)], seed=seed
    )
    comping = comp_line([_band_bar(b, p, p.comping) for b, p in zip(bars, playing, strict=True)])
    rows = zip(
        bars,
        playing,
        strum_bars(bars, playing, strings),
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
            strums=strums,
            bass=low,
            drums=_drums(bar, one),
            comping=chords,
        )
        for bar, one, strums, low, chords in rows
    )


def _band_bar(
    bar: ArrangedBar, playing: Playing, laid: tuple[BandPattern, Fraction] | None
) -> BandBar:
    pattern, turn = laid or (None, Fraction(0))
    bass = bar.style.bass
    from_scale = bass is not None and bass.approach == Approach.SCALE
    return BandBar(
        span=bar.span,
        changes=tuple((change.span, change.chord) for change in bar.changes),
        pattern=pattern,
        turn=turn,
        address=bar.address,
        stop_time=playing.stop_time,
        scale=frozenset(name.pc for name in bar.bar.key.scale) if from_scale else frozenset(),
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
    found = []
    for change in bar.sounding():
        span = change.span.shifted(to_pattern)
        hits = drum_hits(span, pattern)
        if (
            playing.stop_time
            and change.written
            and not any(h.span.start == span.start for h in hits)
        ):
            hits = (*_first_hits(pattern, span), *hits)  # the band stops on every chord together
        found += [
            BandStroke(hit.span.shifted(-to_pattern), hit.key, louder(hit.force, playing.louder))
            for hit in hits
        ]
    return tuple(found)


def _first_hits(pattern: BandPattern, span: Span) -> Iterator[DrumHit]:
    """The hits with which a drum pattern begins, laid over `span`."""
    for note in pattern.notes:
        if note.start == pattern.notes[0].start:
            yield DrumHit(span, percussion_key(note.what), note.force)
