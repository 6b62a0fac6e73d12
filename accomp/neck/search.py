"""Every playable shape of a chord on an instrument, none twice.

Conventions: a row of frets is a shape of the chord when

1. every sounding string has a tone of the chord and every essential tone sounds (the bass of a
   slash chord does not count unless it is a chord tone: the band's bass has it);
2. unsounded strings lie outside the sounding ones; at least `instrument.sounding` strings sound,
   one fewer with `mute` (four of four, four of six; three with `mute`);
3. the hand can finger it (see `accomp.neck.fingering`); of several fingerings the easiest is kept.

The search has a limit: an instrument of twelve strings within reach of each other has more shapes
than fit into any memory.

Shapes come from the nut upward: by lowest fret, then string by string.
"""

from __future__ import annotations

from functools import lru_cache

from accomp.errors import TooManyShapesError
from accomp.harmony import Chord
from accomp.neck.fingering import Frets, barre, finger
from accomp.neck.hand import Hand
from accomp.neck.instrument import Instrument
from accomp.neck.shape import Shape

_SIXTHS = ({"1", "3", "5", "6"}, {"1", "b3", "5", "6"})
# For one chord. Six strings in the usual tuning have seven thousand shapes of a full chord; more
# than these limits take many seconds and, in planning, gigabytes.
MOST_ROWS, MOST_STEPS = 40_000, 3_000_000


def playable_shapes(
    chord: Chord, instrument: Instrument, hand: Hand, *, mute: bool = False
) -> tuple[Shape, ...]:
    """All playable shapes of `chord`, from the nut upward; empty when there are none.

    Raises `TooManyShapesError`.
    """
    return _all(chord, instrument, hand, mute)


def shape_at(
    frets: Frets, chord: Chord, instrument: Instrument, hand: Hand, *, mute: bool = False
) -> Shape | None:
    """The shape at these frets, None when it is not one of the chord or not playable."""
    if not _sounds(frets, instrument, mute):
        return None
    pcs = {pitch % 12 for pitch in instrument.pitches(frets) if pitch is not None}
    if not chord.essential_pcs <= pcs <= chord.by_pc.keys():
        return None
    return _make(frets, chord, instrument, hand)


def heard_as(shape: Shape, chord: Chord) -> bool:
    """Whether a player would call a playable shape by its chord.

    A sixth without its root that doubles another tone is heard as the seventh chord a third lower.
    """
    sixth = chord.degrees in _SIXTHS
    sounding = [degree for degree in shape.degrees if degree is not None]
    return not (sixth and shape.rootless and len(set(sounding)) < len(sounding))


def sounding_rows(instrument: Instrument, mute: bool) -> tuple[range, ...]:
    """The rows of neighbouring strings that may sound together, as ranges of indices."""
    strings = len(instrument.strings)
    least = max(1, instrument.sounding - (1 if mute else 0))
    return tuple(
        range(start, end) for start in range(strings) for end in range(start + least, strings + 1)
    )


def _sounds(frets: Frets, instrument: Instrument, mute: bool) -> bool:
    sounding = [index for index, fret in enumerate(frets) if fret is not None]
    if not sounding or any(fret is not None and fret > instrument.frets for fret in frets):
        return False
    row = range(sounding[0], sounding[-1] + 1)
    return len(row) == len(sounding) and row in sounding_rows(instrument, mute)


@lru_cache(maxsize=4096)
def _all(chord: Chord, instrument: Instrument, hand: Hand, mute: bool) -> tuple[Shape, ...]:
    found = []
    for frets in _rows(chord, instrument, hand, mute):
        shape = _make(frets, chord, instrument, hand)
        if shape is not None:
            found.append(shape)
    found.sort(key=lambda shape: (shape.lowest_fret, _order(shape.frets)))
    return tuple(found)


def _order(frets: Frets) -> tuple[int, ...]:
    return tuple(-1 if fret is None else fret for fret in frets)


def _rows(chord: Chord, instrument: Instrument, hand: Hand, mute: bool) -> list[Frets]:
    """All rows of frets by rules 1 and 2 whose outer fretted notes the hand reaches."""
    places = [instrument.fret_mm(fret) for fret in range(instrument.frets + 1)]
    tones = chord.by_pc
    # For each string the frets with a chord tone, and which essential tones each one gives.
    essential = {pc: 1 << bit for bit, pc in enumerate(sorted(chord.essential_pcs))}
    whole = (1 << len(essential)) - 1
    choices = [
        [
            (fret, essential.get((pitch + fret) % 12, 0))
            for fret in range(instrument.frets + 1)
            if (pitch + fret) % 12 in tones
        ]
        for pitch in instrument.open_pitches
    ]
    rows: list[Frets] = []
    frets: list[int | None] = [None] * len(choices)

    steps = 0

    def put(index: int, end: int, low: int, high: int, has: int) -> None:
        nonlocal steps
        steps += 1
        if steps > MOST_STEPS:
            raise too_many_shapes(chord, instrument)
        if index == end:
            if has == whole:
                if len(rows) == MOST_ROWS:
                    raise too_many_shapes(chord, instrument)
                rows.append(tuple(frets))
            return
        if (whole & ~has).bit_count() > end - index:
            return
        for fret, gives in choices[index]:
            if fret == 0:
                frets[index] = 0
                put(index + 1, end, low, high, has | gives)
                continue
            lower = fret if fret < low else low
            higher = fret if fret > high else high
            if places[higher] - places[lower] > hand.greatest_mm:
                if fret > low:
                    break
                continue
            frets[index] = fret
            put(index + 1, end, lower, higher, has | gives)
        frets[index] = None

    for row in sounding_rows(instrument, mute):
        put(row.start, row.stop, instrument.frets + 1, 0, 0)
    return rows


def too_many_shapes(chord: Chord, instrument: Instrument) -> TooManyShapesError:
    """The error where there are more shapes than can be weighed."""
    return TooManyShapesError(
        f"{chord}: {instrument.title} has more shapes of it than can be weighed "
        f"({len(instrument.strings)} strings, {instrument.frets} frets, scale "
        f"{instrument.scale_mm:g} mm). Narrow it: a smaller hand or reach, or in the instrument's "
        f"file fewer strings or frets, or `sounding` nearer the number of strings.",
        helps=("hand", "reach_mm"),
    )


def _make(frets: Frets, chord: Chord, instrument: Instrument, hand: Hand) -> Shape | None:
    fingers = finger(frets, instrument, hand)
    if fingers is None:
        return None
    pitches = instrument.pitches(frets)
    degrees = tuple(None if pitch is None else chord.degree_of(pitch) for pitch in pitches)
    return Shape(
        frets=frets,
        fingers=fingers,
        barre=barre(frets, fingers),
        pitches=pitches,
        degrees=degrees,
        stretch_mm=instrument.stretch_mm(frets),
        rootless=chord.root.pc not in {pitch % 12 for pitch in pitches if pitch is not None},
    )
