"""One grip, several names: each read back and its tones held against pychord's."""

import random
import re

import pychord
import pytest
from neck_players import MEDIUM, TENOR
from pychord.utils import note_to_val

from accomp.harmony import Key, parse_chord
from accomp.neck import find_instrument, instrument_names, playable_shapes, shape_at
from accomp.neck.grip_names import GripName, TuneContext, grip_names, names_sentence

# What pychord calls otherwise.
SUFFIXES = {"m(maj7)": "mM7", "+": "aug"}
KINDS = "m 7 maj7 6 m6 m7 m7b5 dim7 dim + sus4 sus2 9 maj9 m9 7b9 7sus4 7b5 m(maj7) add9".split()
ROOTS = "C Db D Eb E F F# G Ab A Bb B".split()


def names(symbols, frets, instrument=TENOR):
    chords = [parse_chord(symbol) for symbol in symbols.split()]
    shape = shape_at(tuple(map(int, frets.split())), chords[0], instrument, MEDIUM)
    return [name.words(str(name.chord)) for name in grip_names(shape, chords)]


# Common practice, no source: what teachers say of these grips.
@pytest.mark.parametrize(
    ("symbol", "frets", "told"),
    [
        ("Eb", "3 0 1 1", ["Eb", "Cm7 without root", "the top of Abmaj9"]),
        ("Cm7", "3 0 1 1", ["Cm7 without root", "Eb", "the top of Abmaj9"]),
        ("Dm7b5", "2 1 3 3", ["Dm7b5", "Fm6", "Bb9 without root"]),
        ("Bdim7", "2 1 3 2", ["Bdim7", "Ddim7", "G7b9 without root"]),
        ("Am7", "0 0 2 0", ["Am7", "C6", "Fmaj9 without root"]),
        ("C+", "0 1 2 3", ["C+", "E+", "Am(maj7) without root"]),
        ("F7", "0 2 1 0", ["F7 without root", "Adim"]),
        ("C7", "0 0 2 1", ["C7"]),
        ("Gsus4", "2 0 0 3", ["Gsus4", "Csus2"]),
        ("D9", "4 2 4 3", ["D9 without root", "Am6"]),
    ],
)
def test_the_names_a_teacher_tells(symbol, frets, told):
    assert names(symbol, frets) == told


def test_the_names_that_the_tune_has_come_first_and_a_bass_is_no_other_name():
    assert names("Eb Cm7", "3 0 1 1") == ["Eb", "Cm7 without root", "the top of Abmaj9"]
    assert names("F F/C", "0 2 3 3") == names("F", "0 2 3 3")
    many = names("C6 Am7 C6/G Fmaj9", "0 0 2 0")
    assert many == ["C6", "Am7", "Fmaj9 without root"]


def tones(name):
    """Pitch classes of a chord by pychord, by degree in the order of its components."""
    root, suffix = re.fullmatch(r"([A-G][b#]?)(.*)", name).groups()
    return [
        note_to_val(one) for one in pychord.Chord(root + SUFFIXES.get(suffix, suffix)).components()
    ]


def read_back(name):
    """The pitch classes that a name says are sounded."""
    top = re.fullmatch(r"the top of (\S+)", name)
    if top:
        return set(tones(top[1])[2:])  # from the fifth on
    left = re.fullmatch(r"(\S+)(?: without (root|fifth|root and fifth))?", name)
    assert left, name
    found = tones(left[1])
    gone = {"root": found[0], "fifth": found[2]}
    return set(found) - {gone[word] for word in (left[2] or "").split() if word in gone}


@pytest.mark.many(3, 99)
@pytest.mark.parametrize("instrument", instrument_names())
def test_every_name_has_just_the_tones_that_sound(instrument):
    one = find_instrument(instrument)
    draw = random.Random(51)
    told = 0
    for kind in ["", *KINDS]:
        chord = parse_chord(draw.choice(ROOTS) + kind)
        shapes = playable_shapes(chord, one, MEDIUM)
        for shape in draw.sample(shapes, min(12, len(shapes))):
            sounding = {pitch % 12 for pitch in shape.pitches if pitch is not None}
            words = [name.words(str(name.chord)) for name in grip_names(shape, [chord])]
            assert len(words) == len(set(words)) <= 3
            assert words[0].split(" without ")[0] == str(chord)
            for name in words:
                if "ninth" not in name and "third" not in name and "seventh" not in name:
                    assert read_back(name) == sounding, (chord, str(shape), name)
            told += len(words) > 1
    assert told > 40


def test_the_sentence():
    assert names_sentence(["C7 without root", "Edim"]) == "This grip is C7 without root and Edim."
    assert names_sentence(["Eb", "Cm7 without root", "the top of Abmaj9"]) == (
        "This grip is Eb, Cm7 without root, and the top of Abmaj9."
    )


@pytest.mark.parametrize(
    ("key", "tune", "name", "without", "top", "taught"),
    [
        ("C", "C G7", "G9", "1", False, True),  # up to the seventh it is the tune's own G7
        ("C", "C G7", "G13", "1", False, True),
        ("C", "C", "Dm7", "1", False, True),  # a seventh chord of the key
        ("C", "C", "G7b9", "1", False, True),
        ("C", "C", "D7", "1", False, False),  # F sharp is not of the key
        ("C", "C", "Dm9", "1", False, False),  # no plain seventh chord
        ("C", "C", "Am(maj7)", "1", False, False),
        ("Am", "Am", "E7b9", "1", False, True),  # the leading note is of a minor key
        ("C", "C", "E7b9", "1", False, False),
        ("C", "C", "Fmaj9", "1 3", True, False),  # tops only in a tune that has the chord
        ("C", "C Fmaj7", "Fmaj9", "1 3", True, True),
        ("C", "C", "G9", "1 3", True, False),
        ("C", "C", "C6", "", False, True),  # worth knowing anywhere
        ("C", "C", "F#dim", "", False, True),
        ("C", "C", "Csus4", "", False, False),
        ("C", "C Csus4", "Csus4", "", False, True),
        ("C", "C", "D7sus4", "", False, False),
    ],
)
def test_which_other_names_teach_something_in_a_tune(key, tune, name, without, top, taught):
    context = TuneContext(Key.parse(key), [parse_chord(one) for one in tune.split()])
    assert context.teaches(GripName(parse_chord(name), tuple(without.split()), top)) == taught


def test_other_names_are_spelled_as_the_tune_spells_them():
    context = TuneContext(Key.parse("Ab"), [parse_chord("Eb7"), parse_chord("Ab")])
    for given, spelled in (("D#7b9", "Eb7b9"), ("G#maj7", "G#maj7"), ("G#", "Ab"), ("D#9", "Eb9")):
        assert str(context.spelled(GripName(parse_chord(given))).chord) == spelled


def test_a_name_in_words():
    c = parse_chord("C9")
    assert GripName(c).words("C9") == "C9"
    assert GripName(c, ("1",)).words("C9") == "C9 without root"
    assert GripName(c, ("1", "5")).words("x") == "x without root and fifth"
    assert GripName(c, ("1", "3"), top=True).words("C9") == "the top of C9"
