"""Chords that repeat along the neck: diminished sevenths and augmented triads.

Common practice, no source: a diminished seventh is the same shape every three frets, an augmented
triad every four.
"""

from __future__ import annotations

import pytest

from accomp.harmony import parse_chord
from accomp.neck import Vocabulary, find_hand, find_instrument, find_repertoire

TENOR = find_instrument("tenor-banjo")


@pytest.fixture(scope="module")
def vocabulary():
    return Vocabulary(find_repertoire(TENOR), TENOR, find_hand("medium"))


@pytest.mark.parametrize(("symbol", "frets"), [("Bdim7", 3), ("F#°7", 3), ("C+", 4), ("Ebaug", 4)])
def test_a_known_shape_comes_again_every_so_many_frets(vocabulary, symbol, frets):
    shapes = {one.shape.frets for one in vocabulary.shapes(parse_chord(symbol))}
    for shape in shapes:
        # At the end of the neck there may be no room for the larger shape it would be made from.
        if 0 not in shape and max(shape) + frets + 2 <= TENOR.frets:
            assert tuple(fret + frets for fret in shape) in shapes, shape


def test_degrees_are_those_of_the_chord_asked_for_and_the_words_say_why(vocabulary):
    chord = parse_chord("Bdim7")
    for one in vocabulary.shapes(chord):
        sounds = [
            (open_pitch + fret - 11) % 12
            for open_pitch, fret in zip(TENOR.open_pitches, one.shape.frets, strict=True)
        ]
        names = {0: "1", 3: "b3", 6: "b5", 9: "bb7"}
        assert list(one.shape.degrees) == [names[sound] for sound in sounds]
        words = one.derivation.words("Bdim7")
        assert ("the same tones as" in words) == bool(one.derivation.alike)
    assert any(one.derivation.alike for one in vocabulary.shapes(chord))
