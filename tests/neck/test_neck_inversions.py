"""Inversions against an enumeration that knows nothing of how the package finds them."""

from itertools import permutations, product

import neck_shapes
import pytest

from accomp.harmony import Pitch, parse_chord
from accomp.neck import Instrument, find_hand, find_instrument, instrument_names
from accomp.neck.inversions import inversions

MEDIUM = find_hand("medium")
FOUR_STRINGS = [name for name in instrument_names() if len(find_instrument(name).strings) == 4]
ROOTS = dict(zip("C Db D Eb E F Gb G Ab A Bb B".split(), range(12), strict=True))
# Semitones above the root, written out here.
FOUR_TONES = {
    "7": (0, 4, 7, 10), "maj7": (0, 4, 7, 11), "m7": (0, 3, 7, 10), "6": (0, 4, 7, 9),
    "m6": (0, 3, 7, 9), "m7b5": (0, 3, 6, 10), "dim7": (0, 3, 6, 9), "7b5": (0, 4, 6, 10),
    "7#5": (0, 4, 8, 10), "m(maj7)": (0, 3, 7, 11), "7sus4": (0, 5, 7, 10),
}  # fmt: skip


def enumerated(one, root, tones):
    """All rows of frets with each tone once, rising from the lowest-tuned string, within comfort.

    Every tone is tried on every string, at each of its places.
    """
    neck = neck_shapes.Neck(
        one.open_pitches, one.frets, one.scale_mm, 4, MEDIUM.greatest_mm, MEDIUM.neighbour
    )
    found = set()
    order = sorted(range(4), key=lambda string: one.open_pitches[string])
    for on_string in permutations(tones):
        places = [
            [f for f in range(one.frets + 1) if (neck.opens[s] + f - root - tone) % 12 == 0]
            for s, tone in enumerate(on_string)
        ]
        for frets in product(*places):
            pitches = [neck.opens[s] + frets[s] for s in order]
            fretted = [fret for fret in frets if fret] or [0]
            span = neck_shapes.place(neck, max(fretted)) - neck_shapes.place(neck, min(fretted))
            if pitches != sorted(set(pitches)) or span > MEDIUM.comfort_mm:
                continue
            if neck_shapes.best_fingering(neck, frets) is not None:
                found.add(frets)
    return found


@pytest.mark.many(1, 3)
@pytest.mark.parametrize("name", FOUR_STRINGS)
def test_inversions_are_those_of_an_independent_enumeration(name):
    one = find_instrument(name)
    checked = 0
    for suffix, tones in FOUR_TONES.items():
        for root, pc in ROOTS.items():
            chord = parse_chord(root + suffix)
            assert {tone.pc for tone in chord.tones} == {(pc + tone) % 12 for tone in tones}
            found = inversions(chord, one, MEDIUM)
            assert {shape.frets for shape in found} == enumerated(one, pc, tones), chord
            checked += len(found)
    assert checked > 132


@pytest.mark.parametrize("name", ["tenor-banjo", "tenor-banjo-19", "tenor-guitar"])
def test_the_four_standard_grips_of_a_seventh_on_strings_tuned_in_fifths(name):
    one = find_instrument(name)
    found = {str(shape): shape for shape in inversions(parse_chord("Bb7"), one, MEDIUM)}
    tops = set()
    for frets in ("2 1 3 1", "5 3 6 5", "8 7 8 8", "10 10 12 11"):
        assert frets in found
        assert found[frets].highest_fret - found[frets].lowest_fret <= 3
        tops.add(found[frets].top)
    assert tops == {"1", "3", "5", "b7"}


def test_a_triad_has_none_and_a_ninth_leaves_out_fifth_or_root():
    one = find_instrument("tenor-banjo")
    assert inversions(parse_chord("C"), one, MEDIUM) == ()
    ninths = inversions(parse_chord("C9"), one, MEDIUM)
    assert {frozenset(shape.degrees) for shape in ninths} == {
        frozenset({"1", "3", "b7", "9"}),
        frozenset({"3", "5", "b7", "9"}),
    }


def test_six_strings_have_them_on_four_neighbouring_ones():
    guitar = find_instrument("guitar")
    found = inversions(parse_chord("C7"), guitar, MEDIUM)
    starts = set()
    for shape in found:
        sounding = [string for string, fret in enumerate(shape.frets) if fret is not None]
        assert len(sounding) == 4
        assert sounding == list(range(sounding[0], sounding[0] + 4))
        pitches = [shape.pitches[string] for string in sounding]
        assert pitches == sorted(set(pitches))
        starts.add(sounding[0])
    assert starts == {0, 1, 2}


def test_three_strings_have_none():
    three = Instrument("three", "Three", tuple(map(Pitch.parse, ("G3", "D4", "A4"))), 12, 400.0)
    assert inversions(parse_chord("C7"), three, MEDIUM) == ()
