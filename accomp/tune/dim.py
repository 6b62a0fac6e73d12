"""Charts of bands, in which "dim" and "°" on a passing chord mean the diminished seventh.

Conventions: only the plain triad's symbol is read so (`Bdim`, `B°`, `Bdim/D`); a symbol that says
more means what it says. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from accomp.harmony import Chord, parse_chord
from accomp.tune.model import Bar, ChordSpan, Section

_KIND = "diminished"


def with_sevenths(sections: Mapping[str, Section]) -> tuple[dict[str, Section], tuple[str, ...]]:
    """The sections with each diminished triad as a seventh chord, and the notice that says so."""
    read: dict[str, str] = {}

    def span(one: ChordSpan) -> ChordSpan:
        if one.chord is None or one.chord.kind != _KIND or one.chord.alterations:
            return one
        chord = _seventh(one.chord)
        read[str(one.chord)] = str(chord)
        return replace(one, chord=chord)

    def bar(one: Bar) -> Bar:
        return replace(one, chords=tuple(map(span, one.chords)))

    found = {name: section.with_bars(bar) for name, section in sections.items()}
    if not read:
        return found, ()
    pairs = ", ".join(f"{old} is read as {new}" for old, new in read.items())
    return found, (f'The chart has dim = "seventh": {pairs}.',)


def _seventh(chord: Chord) -> Chord:
    bass = "" if chord.bass is None else f"/{chord.bass}"
    return parse_chord(f"{chord.root}dim7{bass}")
