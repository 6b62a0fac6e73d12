import random
from dataclasses import replace

import pytest
from neck_shapes import Neck, playable

from accomp.harmony import Pitch, parse_chord
from accomp.neck import Hand, Instrument, find_hand, find_instrument, playable_shapes, shape_at

TENOR = find_instrument("tenor-banjo")
LONG_TENOR = find_instrument("tenor-banjo-19")
MEDIUM = find_hand("medium")


def instrument(strings, frets, scale_mm, **rest):
    pitches = tuple(Pitch.parse(name) for name in strings.split())
    return Instrument("made-up", "Made up", pitches, frets, scale_mm, **rest)


# Two tunings and a scale that no data file has.
MADE_UP = (
    instrument("D3 A3 D4 F#4", 14, 455.0),
    instrument("E4 B3 G4 C5", 12, 410.0),
    instrument("C3 G3 D4 A4", 17, 611.0),
)
ROOTS = "C C# Db D Eb E F F# Gb G Ab A Bb B".split()
SUFFIXES = ["", "m", "7", "maj7", "m7", "m7b5", "dim7", "+", "6", "m6", "sus4", "9", "13", "5"]


def oracle(chord, one, hand, mute=False, frets=None):
    neck = Neck(
        tuple(pitch.midi for pitch in one.strings),
        one.frets,
        one.scale_mm,
        one.sounding - (1 if mute else 0),
        hand.greatest_mm,
        hand.neighbour,
    )
    tones = frozenset(tone.pc for tone in chord.tones)
    essential = frozenset(tone.pc for tone in chord.tones if tone.essential)
    return playable(neck, tones, essential, frets)


def as_dict(shapes):
    rows = {shape.frets: shape.fingers for shape in shapes}
    assert len(rows) == len(shapes), "a shape was found twice"
    return rows


def pairs(count, instruments, seed):
    draw = random.Random(seed)
    return [
        (draw.choice(ROOTS) + draw.choice(SUFFIXES), instruments[n % len(instruments)])
        for n in range(count)
    ]


FOUR_STRINGS = [
    find_instrument(name)
    for name in (
        "tenor-banjo tenor-banjo-19 irish-tenor-banjo plectrum-banjo tenor-guitar mandolin ukulele"
    ).split()
]


@pytest.mark.slow
def test_all_shapes_of_four_strings_equal_exhaustive_search():
    for symbol, one in pairs(230, [*FOUR_STRINGS, *MADE_UP], seed=41):
        chord = parse_chord(symbol)
        assert as_dict(playable_shapes(chord, one, MEDIUM)) == oracle(chord, one, MEDIUM), (
            symbol,
            one,
        )


@pytest.mark.parametrize("name", ["small", "large"])
def test_other_hands_equal_exhaustive_search(name):
    for symbol, one in pairs(12, FOUR_STRINGS, seed=42):
        chord = parse_chord(symbol)
        hand = find_hand(name)
        assert as_dict(playable_shapes(chord, one, hand)) == oracle(chord, one, hand)


def test_muted_shapes_equal_exhaustive_search():
    for symbol, one in pairs(12, FOUR_STRINGS, seed=43):
        chord = parse_chord(symbol)
        assert as_dict(playable_shapes(chord, one, MEDIUM, mute=True)) == oracle(
            chord, one, MEDIUM, mute=True
        )


@pytest.mark.slow
@pytest.mark.parametrize(
    "part", [range(10), pytest.param(range(10, 70), marks=pytest.mark.long)], ids=["some", "all"]
)
def test_six_strings_inside_a_window_equal_exhaustive_search(part):
    guitar = find_instrument("guitar")
    draw = random.Random(44)
    cases = [(symbol, draw.randint(1, 14)) for symbol, _ in pairs(70, [guitar], seed=45)]
    for symbol, low in cases[part.start : part.stop]:
        chord = parse_chord(symbol)
        window = range(low, low + 6)
        expected = oracle(chord, guitar, MEDIUM, frets=[0, *window])
        found = {
            frets: fingers
            for frets, fingers in as_dict(playable_shapes(chord, guitar, MEDIUM)).items()
            if all(fret in window for fret in frets if fret)
        }
        assert found == expected, (symbol, low)


# Common practice, no source: shapes every tenor player knows, fourth string to first, with the
# degrees counted on the fingerboard by hand; stretch from the fret formula, worked out by hand:
# 533 (2^(-3/12) - 2^(-7/12)) = 92.5.
KNOWN = [
    ("C", "0 0 2 3", "1 5 3 1", "1", True, False, 26.7),
    ("F", "0 2 3 3", "5 3 1 5", "5", True, False, 26.7),
    ("G7", "2 0 3 2", "5 1 b7 3", "3", True, False, 26.7),
    ("C7", "0 0 2 1", "1 5 3 b7", "b7", True, False, 28.2),
    ("C", "4 5 5 7", "3 1 5 3", "3", False, False, 67.3),
    ("F", "5 5 7 8", "1 5 3 1", "1", False, False, 63.5),
    ("G7", "2 4 3 5", "5 3 b7 5", "5", False, True, 75.6),
    ("C7", "4 3 5 3", "3 b7 5 1", "1", False, False, 48.9),
    ("C7", "4 3 5 7", "3 b7 5 3", "3", False, True, 92.5),
]


@pytest.mark.parametrize(("symbol", "frets", "degrees", "top", "is_open", "rootless", "mm"), KNOWN)
def test_shapes_every_tenor_player_knows(symbol, frets, degrees, top, is_open, rootless, mm):
    shapes = {str(shape): shape for shape in playable_shapes(parse_chord(symbol), TENOR, MEDIUM)}
    shape = shapes[frets]
    assert " ".join(shape.degrees) == degrees
    assert (shape.top, shape.open, shape.rootless) == (top, is_open, rootless)
    assert shape.stretch_mm == pytest.approx(mm, abs=0.05)


def test_the_longer_scale_asks_for_more_reach():
    # 584 (2^(-3/12) - 2^(-7/12)) = 101.3 mm, by hand from the fret formula.
    chord = parse_chord("C7")
    assert "4 3 5 7" not in {str(shape) for shape in playable_shapes(chord, LONG_TENOR, MEDIUM)}
    reach = MEDIUM.with_reach(105)
    shapes = {str(shape): shape for shape in playable_shapes(chord, LONG_TENOR, reach)}
    assert shapes["4 3 5 7"].stretch_mm == pytest.approx(101.3, abs=0.05)


def test_a_longer_scale_never_makes_a_stretch_smaller():
    for symbol in ("C", "Bb7", "F#m7b5", "Edim7"):
        chord = parse_chord(symbol)
        shorter = playable_shapes(chord, TENOR, MEDIUM)
        wide = Hand("wide", "Wide", 80, 400, 1.0)
        longer = {
            shape.frets: shape
            for shape in playable_shapes(chord, replace(TENOR, scale_mm=590.0), wide)
        }
        for shape in shorter:
            assert longer[shape.frets].stretch_mm >= shape.stretch_mm


def test_shape_at_agrees_with_the_search():
    chord = parse_chord("Gm7")
    for shape in playable_shapes(chord, TENOR, MEDIUM):
        assert shape_at(shape.frets, chord, TENOR, MEDIUM) == shape
    assert shape_at((0, 0, 2, 3), chord, TENOR, MEDIUM) is None
    assert shape_at((None, 0, 3, 1), chord, TENOR, MEDIUM) is None
    assert shape_at((3, 3, 3, 30), chord, TENOR, MEDIUM) is None


def test_unsounded_strings_lie_outside_and_four_sound():
    for shape in playable_shapes(parse_chord("A7"), find_instrument("guitar"), MEDIUM):
        sounding = [index for index, fret in enumerate(shape.frets) if fret is not None]
        assert len(sounding) >= 4
        assert sounding == list(range(sounding[0], sounding[-1] + 1))


def test_a_bass_that_is_no_chord_tone_is_left_to_the_bass_player():
    plain = {shape.frets for shape in playable_shapes(parse_chord("F"), TENOR, MEDIUM)}
    slash = {shape.frets for shape in playable_shapes(parse_chord("F/G"), TENOR, MEDIUM)}
    assert plain == slash


def test_only_the_index_lies_over_a_string_of_another_finger():
    guitar = find_instrument("guitar")
    # The middle finger on strings 6, 4 and 3 would have to leave the fifth to the little finger.
    assert shape_at((7, 8, 7, 7, 6, 7), parse_chord("Bm7b5"), guitar, MEDIUM) is None
    # The index does so in every barre chord, and the ring finger may lie over what it stops.
    assert shape_at((1, 3, 3, 2, 1, 1), parse_chord("F"), guitar, MEDIUM).fingers[0] == 1
    assert (
        shape_at((None, 3, 5, 5, 5, 3), parse_chord("C"), guitar, MEDIUM).fingers[2:5] == (3,) * 3
    )
