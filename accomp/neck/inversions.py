"""Inversions: the grips of a chord in which every string climbs to another tone.

Conventions: four neighbouring strings sound, four different tones of the chord, each once, the
pitch rising from the lowest-tuned string to the highest (on a re-entrant ukulele that is not the
order in which strings are numbered), within the hand's comfort. They follow from the tuning alone.
A chord with more than four tones has the inversions of every four that include its essential ones:
the fifth is missed least, then the root, which the band's bass has.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import combinations

from accomp.harmony import Chord
from accomp.neck.fingering import Frets
from accomp.neck.hand import Hand
from accomp.neck.instrument import Instrument
from accomp.neck.search import shape_at
from accomp.neck.shape import Shape

VOICES = 4


@lru_cache(maxsize=4096)
def inversions(chord: Chord, instrument: Instrument, hand: Hand) -> tuple[Shape, ...]:
    """All inversions of a chord, from the nut upward; none of a chord with three tones."""
    found: dict[Frets, Shape] = {}
    for voices in _voices(chord):
        for frets in _rows(voices, instrument, hand):
            shape = shape_at(frets, chord, instrument, hand)
            if shape is not None:
                found[frets] = shape
    return tuple(sorted(found.values(), key=lambda shape: (shape.lowest_fret, str(shape))))


def _voices(chord: Chord) -> Iterator[frozenset[int]]:
    """The pitch classes of each four tones that make the chord."""
    if chord.essential_pcs <= chord.by_pc.keys():
        for four in combinations(sorted(chord.by_pc), VOICES):
            if chord.essential_pcs <= set(four):
                yield frozenset(four)


def _rows(voices: frozenset[int], instrument: Instrument, hand: Hand) -> Iterator[Frets]:
    """The rows of frets that sound these tones once each, rising, within comfort."""
    opens = instrument.open_pitches
    frets_mm = [instrument.fret_mm(fret) for fret in range(instrument.frets + 1)]
    frets: list[int | None] = [None] * len(opens)

    def climb(
        strings: list[int], below: int, left: frozenset[int], low: int, high: int
    ) -> Iterator[Frets]:
        if not strings:
            yield tuple(frets)
            return
        string, *above = strings
        for fret in range(instrument.frets + 1):
            pitch = opens[string] + fret
            if pitch <= below or pitch % 12 not in left:
                continue
            lower, higher = (min(low, fret), max(high, fret)) if fret else (low, high)
            if higher and frets_mm[higher] - frets_mm[lower] > hand.comfort_mm:
                continue
            frets[string] = fret
            yield from climb(above, pitch, left - {pitch % 12}, lower, higher)
        frets[string] = None

    for start in range(len(opens) - VOICES + 1):
        window = sorted(range(start, start + VOICES), key=opens.__getitem__)
        yield from climb(window, -1, voices, instrument.frets, 0)
