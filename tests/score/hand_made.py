"""Arrangements written by hand, so that tests of the bridges need no planner and no style file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from accomp.harmony import Key, Pitch, parse_chord
from accomp.neck import Instrument, Shape
from accomp.rhythm import Pattern, Stroke, Style
from accomp.rhythm.stroke import ForceStep, StrokeDirection, StrokeSound, Technique
from accomp.rhythm.strum import written_strokes
from accomp.score.arrangement import ArrangedBar, Arrangement, BandStroke, ChordChange, Strum
from accomp.time import Meter, Span
from accomp.tune import ChordSpan, PlayedBar

BANJO = Instrument(
    "tenor-banjo", "Tenor banjo", tuple(map(Pitch.parse, ("C3", "G3", "D4", "A4"))), 17, 533.4
)
UKULELE = Instrument(
    "ukulele",
    "Ukulele",
    tuple(map(Pitch.parse, ("G4", "C4", "E4", "A4"))),
    12,
    345.0,
    octave=0,
    program=25,
)
GUITAR = Instrument(
    "guitar",
    "Guitar",
    tuple(map(Pitch.parse, ("E2", "A2", "D3", "G3", "B3", "E4"))),
    20,
    648.0,
    program=26,
)

# start, end (fractions of a whole), direction, force, sound or technique; "all", "low2" or "high2"
FOUR = tuple(
    (f"{n}/4", f"{n + 1}/4", "down", "plain" if n % 2 == 0 else "accent", "ring", "all")
    for n in range(4)
)


def shape(
    instrument: Instrument,
    symbol: str,
    frets: str,
    fingers: str = "",
    barre: int | None = None,
) -> Shape:
    """A shape from "0 2 3 3" (x = not sounded), fingers likewise."""
    chord = parse_chord(symbol)
    tuple_frets = tuple(None if fret == "x" else int(fret) for fret in frets.split())
    pitches = tuple(
        None if fret is None else pitch + fret
        for pitch, fret in zip(instrument.open_pitches, tuple_frets, strict=True)
    )
    fretted = [fret for fret in tuple_frets if fret]
    return Shape(
        frets=tuple_frets,
        fingers=tuple(int(f) for f in (fingers or " ".join("0" * len(tuple_frets))).split()),
        barre=barre,
        pitches=pitches,
        degrees=tuple(None if pitch is None else chord.degree_of(pitch) for pitch in pitches),
        stretch_mm=(
            instrument.fret_mm(max(fretted)) - instrument.fret_mm(min(fretted)) if fretted else 0.0
        ),
        rootless=chord.root.pc not in {p % 12 for p in pitches if p is not None},
    )


def style(meter: Meter, title: str = "Even four", swing: float = 1.0) -> Style:
    """A style whose pattern does not matter, since the strums are written out."""
    pattern = Pattern(meter.bar, (Stroke(Span(Fraction(0), meter.bar)),))
    return Style(
        name="by-hand",
        title=title,
        meter=meter,
        tempo=(60.0, 240.0),
        strum=pattern,
        bass=None,
        drums=None,
        swing=swing,
    )


def arrangement(
    bars: Sequence[Sequence[tuple[str, str, str]] | tuple[str, str]],
    strokes: Sequence[tuple[str, str, str, str, str, str]] = FOUR,
    *,
    meter: str = "4/4",
    key: str = "F",
    tempo: float = 168.0,
    instrument: Instrument = BANJO,
    title: str = "Harbour Street Parade",
    pickup: Fraction = Fraction(0),
    sections: Sequence[str] = (),
    bass: Sequence[tuple[str, str, str]] = (),
    swing: float = 1.0,
    keys: Sequence[str] = (),
    chorus_bars: int = 0,
) -> Arrangement:
    """Bars of chords with the same strokes in each.

    A bar is ("F", "0 2 3 3") or several of ("F", "0 2 3 3", "1/2") with their lengths; the chord
    "N.C." is silence. `sections` names the section of each bar, `bass` gives the same notes for
    each bar as (start, end, pitch), `chorus_bars` begins a new chorus every so many bars.
    """
    time = Meter.parse(meter)
    arranged = []
    for index, chords in enumerate(bars):
        start = index * time.bar
        if isinstance(chords[0], str):
            chords = [(*chords, str(time.bar))]
        changes, now = [], start
        for symbol, frets, length in chords:
            span = Span(now, now + Fraction(length))
            chord = None if symbol == "N.C." else parse_chord(symbol)
            made = None if chord is None else shape(instrument, symbol, frets)
            changes.append(ChordChange(span, chord, made))
            now = span.end
        section = sections[index] if sections else "A"
        opens = index == 0 or (bool(sections) and sections[index - 1] != section)
        if chorus_bars and index % chorus_bars == 0:
            opens = True
        arranged.append(
            ArrangedBar(
                bar=PlayedBar(
                    number=index + 1,
                    start=start,
                    chorus=1 + (index // chorus_bars if chorus_bars else 0),
                    section=section,
                    section_bar=0,
                    opens=opens,
                    key=Key.parse(keys[index] if keys else key),
                    meter=time,
                    style=None,
                    chords=tuple(
                        ChordSpan(change.chord, change.span.shifted(-start)) for change in changes
                    ),
                ),
                style=style(time, swing=swing),
                changes=tuple(changes),
                strums=tuple(_strums(start, changes, strokes)),
                bass=tuple(
                    BandStroke(Span(start + Fraction(a), start + Fraction(b)), pitch.midi, "plain")
                    for a, b, name in bass
                    for pitch in (Pitch.parse(name),)
                ),
                drums=(),
            )
        )
    return Arrangement(
        title=title,
        composer="",
        key=Key.parse(key),
        tempo=tempo,
        beat=time.beat,
        pickup=pickup,
        instrument=instrument,
        plans=(),
        bars=tuple(arranged),
    )


def _strums(
    start: Fraction,
    changes: Sequence[ChordChange],
    strokes: Sequence[tuple[str, str, str, str, str, str]],
) -> list[Strum]:
    strums = []
    for a, b, direction, force, sound, which in strokes:
        span = Span(start + Fraction(a), start + Fraction(b))
        change = next(change for change in changes if span.start in change.span)
        if change.chord is None or change.shape is None:
            continue
        cut = span.cut(change.span)
        assert cut is not None
        strings = [i for i, fret in enumerate(change.shape.frets) if fret is not None]
        strings = {"all": strings, "low2": strings[:2], "high2": strings[-2:]}[which]
        if direction == "up":
            strings = strings[::-1]
        technique = Technique.STROKE
        if sound in set(Technique):
            technique, sound = Technique(sound), "ring"
        stroke = Stroke(
            cut, StrokeDirection(direction), "all", ForceStep(force), StrokeSound(sound), technique
        )
        for one, struck in written_strokes(stroke, tuple(strings)):
            strums.append(
                Strum(
                    one.span, change.shape, change.chord, struck,
                    one.direction, one.force, one.sound, one.technique,
                )
            )  # fmt: skip
    return strums


def played_bars(*sections: tuple[str, int, int]) -> list:
    """Bars of sections as (name, chorus, length)."""
    whole = arrangement([("F", "0 2 3 3")] * sum(length for *_, length in sections))
    bars = [bar.bar for bar in whole.bars]
    places = [(name, chorus, nth) for name, chorus, length in sections for nth in range(length)]
    return [
        replace(bar, section=name, chorus=chorus, section_bar=nth, opens=nth == 0)
        for bar, (name, chorus, nth) in zip(bars, places, strict=True)
    ]
