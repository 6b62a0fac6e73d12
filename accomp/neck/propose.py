"""A first repertoire for an instrument that has none: a few easy triads, one for each top degree.

Conventions: a proposal is a complete major triad (every tone sounds), closed, so that it moves.
Of all shapes with one degree on top the easiest is taken: least stretch and fewest fingers,
then the most strings, then the lowest place on the neck. The player edits it as a file.
"""

from __future__ import annotations

from functools import lru_cache

from accomp.harmony import parse_chord
from accomp.neck.hand import Hand
from accomp.neck.instrument import Instrument
from accomp.neck.repertoire import Repertoire, RepertoireShape, family_name
from accomp.neck.search import playable_shapes
from accomp.neck.shape import Shape

# A fret of stretch is worth so many fingers; frets and not mm, so that a shape that slides is as
# easy everywhere.
_FINGERS_A_FRET = 2
# Any root will do for a shape that moves; this one comes first in the alphabet of the trade.
_ROOT = "C"


@lru_cache(maxsize=64)
def propose(instrument: Instrument, hand: Hand) -> Repertoire:
    """The easiest closed complete triad for each of root, third and fifth on top."""
    chord = parse_chord(_ROOT)
    best: dict[str, Shape] = {}
    for shape in playable_shapes(chord, instrument, hand):
        if shape.open or shape.stretch_mm > hand.comfort_mm:
            continue
        if shape.top not in best or _effort(shape) < _effort(best[shape.top]):
            best[shape.top] = shape
    shapes = tuple(
        RepertoireShape(family_name(chord, shape.frets), chord, shape.frets, True)
        for shape in sorted(best.values(), key=lambda shape: shape.lowest_fret)
    )
    title = f"Proposed for {instrument.title}"
    return Repertoire(title, instrument.strings, shapes, proposed=True)


def _effort(shape: Shape) -> tuple[int, int, int, tuple[int, ...]]:
    """The order of ease: least first."""
    span = shape.highest_fret - shape.lowest_fret
    fingers = len({finger for finger in shape.fingers if finger})
    silent = shape.frets.count(None)
    return span * _FINGERS_A_FRET + fingers, silent, shape.lowest_fret, shape.fretted
