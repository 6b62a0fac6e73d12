"""What the cost model counts: amounts of each named term, in its unit, before any weight.

Conventions: amounts are never negative. Lengths are counted in units of 10 mm, pitches in
semitones, the rest in pieces. The terms and their units are listed in data/costs.toml, in the same
order as here.
"""

from __future__ import annotations

from itertools import pairwise

from accomp.harmony import Chord
from accomp.neck.hand import Hand
from accomp.neck.instrument import Instrument
from accomp.neck.shape import Shape

SHAPE_TERMS = (
    "stretch", "strain", "fingers", "barre", "height", "rootless", "fifthless", "doubled",
    "crossed", "mud", "unfamiliar", "ringing", "bass",
)  # fmt: skip
CHANGE_TERMS = ("shift", "put_down", "lifted", "slid", "top", "voices")

_THIRDS_AND_SEVENTHS = frozenset({"b3", "3", "bb7", "b7", "7"})
UNIT_MM = 10.0


def shape_amounts(
    shape: Shape,
    chord: Chord,
    instrument: Instrument,
    hand: Hand,
    *,
    familiar: bool = True,
    choked: bool = False,
) -> tuple[float, ...]:
    """The amounts of `SHAPE_TERMS` for one shape, where `choked` says that the style chokes."""
    used = [finger for finger in shape.fingers if finger]
    sounding = [degree for degree in shape.degrees if degree is not None]
    fifth = any(tone.degree == "5" for tone in chord.tones)
    doubled = sum(max(0, sounding.count(degree) - 1) for degree in _THIRDS_AND_SEVENTHS)
    return (
        shape.stretch_mm / UNIT_MM,
        max(0.0, shape.stretch_mm - hand.comfort_mm) / UNIT_MM,
        float(len(set(used))),
        float(sum(used.count(finger) > 1 for finger in set(used))),
        float(max(0, shape.lowest_fret - 1)),
        float(shape.rootless),
        float(fifth and "5" not in sounding),
        float(doubled),
        float(_crossed(shape, instrument)),
        mud(shape),
        float(not familiar),
        float(shape.frets.count(0) if choked else 0),
        float(_bass_elsewhere(shape, chord)),
    )


def mud(shape: Shape) -> float:
    """Semitones by which low neighbouring notes lie too close, added up.

    Below middle C a clear interval is at least (60 - lower note) / 3 semitones: a major third on
    C3, a fifth on E2. Low-interval limits of arranging textbooks generally, from memory.
    """
    pitches = shape.voices[::-1]
    return sum(max(0.0, (60 - low) / 3.0 - (high - low)) for low, high in pairwise(pitches))


def _crossed(shape: Shape, instrument: Instrument) -> int:
    opens = instrument.open_pitches
    count = 0
    for index in range(len(opens) - 1):
        low, high = shape.pitches[index], shape.pitches[index + 1]
        if low is not None and high is not None and opens[index] < opens[index + 1]:
            count += low >= high
    return count


def _bass_elsewhere(shape: Shape, chord: Chord) -> bool:
    if chord.bass is None or chord.bass.pc not in chord.by_pc:
        return False
    return min(pitch for pitch in shape.pitches if pitch is not None) % 12 != chord.bass.pc


def change_amounts(here: Shape, there: Shape, instrument: Instrument) -> tuple[float, ...]:
    """The amounts of `CHANGE_TERMS` for going from one shape to another.

    The hand's place is that of its lowest fretted fret; a hand that frets nothing is wherever the
    other shape wants it.
    """
    put_down, lifted, slid = finger_counts(here, there)
    low, lower = here.lowest_fret, there.lowest_fret
    shift = abs(instrument.fret_mm(low) - instrument.fret_mm(lower)) if low and lower else 0.0
    return (
        shift / UNIT_MM,
        float(put_down),
        float(lifted),
        float(slid),
        float(abs(here.top_pitch - there.top_pitch)),
        float(_voices(here, there)),
    )


def finger_counts(here: Shape, there: Shape) -> tuple[int, int, int]:
    """How many fingers come down, lift and slide; what each word means: `accomp.neck.fingers`."""
    put_down = slid = lifted = 0
    before, after = here.frets, there.frets
    for finger, strings in there.stops:
        if all(before[index] == after[index] for index in strings):
            continue
        if any(here.fingers[i] == finger and before[i] != after[i] for i in strings):
            slid += 1
        else:
            put_down += 1
    for finger, strings in here.stops:
        if finger not in there.fingers and any(before[i] != after[i] for i in strings):
            lifted += 1
    return put_down, lifted, slid


def _voices(here: Shape, there: Shape) -> int:
    """Semitones that the voices move, the highest with the highest and so on down."""
    return sum(abs(a - b) for a, b in zip(here.voices, there.voices, strict=False))
