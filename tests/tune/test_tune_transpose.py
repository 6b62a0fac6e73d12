"""Tunes in other keys: the right sounds under the right names.

The chords of each key (I, IV, V7, vi, V7 of V) are those of any book on harmony, written by hand.
"""

from dataclasses import replace

import pytest
from drawn import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from made_tunes import KEYS, tune_texts

from accomp.errors import InputError
from accomp.harmony import ALL_MAJOR, ALL_MINOR, Key
from accomp.tune import parse_tune, transpose_tune, unfold

MAJOR = {
    "C": "C F G7 Am D7",
    "Db": "Db Gb Ab7 Bbm Eb7",
    "D": "D G A7 Bm E7",
    "Eb": "Eb Ab Bb7 Cm F7",
    "E": "E A B7 C#m F#7",
    "F": "F Bb C7 Dm G7",
    "F#": "F# B C#7 D#m G#7",
    "Gb": "Gb Cb Db7 Ebm Ab7",
    "G": "G C D7 Em A7",
    "Ab": "Ab Db Eb7 Fm Bb7",
    "A": "A D E7 F#m B7",
    "Bb": "Bb Eb F7 Gm C7",
    "B": "B E F#7 G#m C#7",
    "Cb": "Cb Fb Gb7 Abm Db7",
    "C#": "C# F# G#7 A#m D#7",
}
# i, iv, V7, III, ii half-diminished
MINOR = {
    "Cm": "Cm Fm G7 Eb Dm7b5",
    "C#m": "C#m F#m G#7 E D#m7b5",
    "Dm": "Dm Gm A7 F Em7b5",
    "Ebm": "Ebm Abm Bb7 Gb Fm7b5",
    "D#m": "D#m G#m A#7 F# E#m7b5",
    "Em": "Em Am B7 G F#m7b5",
    "Fm": "Fm Bbm C7 Ab Gm7b5",
    "F#m": "F#m Bm C#7 A G#m7b5",
    "Gm": "Gm Cm D7 Bb Am7b5",
    "G#m": "G#m C#m D#7 B A#m7b5",
    "Am": "Am Dm E7 C Bm7b5",
    "Bbm": "Bbm Ebm F7 Db Cm7b5",
    "Bm": "Bm Em F#7 D C#m7b5",
}
# Semitones of the names above C.
LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def tune_in(key, chords):
    return parse_tune(
        f'title = "T"\nkey = "{key}"\nmeter = "4/4"\ntempo = 100\n[sections]\n'
        f'A = "| {" | ".join(chords.split())} |"\n',
        "t.toml",
    )


def symbols(tune):
    return " ".join(
        str(span.chord) if span.chord else "N.C." for bar in unfold(tune) for span in bar.chords
    )


def pc(name):
    signs = name[1:].replace("♭", "b").replace("♯", "#")
    return (LETTERS[name[0]] + signs.count("#") - signs.count("b")) % 12


@pytest.mark.parametrize("table", [MAJOR, MINOR], ids=["major", "minor"])
def test_every_key_spells_its_own_chords(table):
    for old, chords in table.items():
        tune = tune_in(old, chords)
        for new, expected in table.items():
            moved = transpose_tune(tune, Key.parse(new))
            assert symbols(moved) == expected, (old, new)
            assert str(moved.key) == str(moved.sections["A"].key) == new
            assert transpose_tune(moved, tune.key) == tune


def test_bass_notes_and_silence_go_along():
    tune = tune_in("C", "C/E F#dim7 C/G N.C. B♭°7")
    assert symbols(transpose_tune(tune, Key.parse("Eb"))) == "Eb/G Adim7 Eb/Bb N.C. D♭°7"


@settings(max_examples=examples(60))
@given(tune_texts(), st.data())
def test_all_sounds_move_alike_and_back_again(text, data):
    tune = parse_tune(text, "")
    key = Key.parse(data.draw(st.sampled_from(KEYS[tune.key.minor])))
    moved = transpose_tune(tune, key)
    up = (pc(str(key).rstrip("m")) - pc(str(tune.key).rstrip("m"))) % 12
    back = transpose_tune(moved, tune.key)
    for old, new, same in zip(unfold(tune), unfold(moved), unfold(back), strict=True):
        assert (pc(str(new.key).rstrip("m")) - pc(str(old.key).rstrip("m"))) % 12 == up
        assert abs(new.key.fifths) <= 7
        assert old.key.minor == new.key.minor
        assert old.meter == new.meter
        for one, two, three in zip(old.chords, new.chords, same.chords, strict=True):
            assert (one.span, one.written, one.line) == (two.span, two.written, two.line)
            if one.chord is None:
                assert two.chord is None
                continue
            assert two.chord is not None
            assert three.chord is not None
            first = [(tone.degree, (tone.pc + up) % 12) for tone in one.chord.tones]
            assert [(tone.degree, tone.pc) for tone in two.chord.tones] == first
            assert [tone.pc for tone in three.chord.tones] == [t.pc for t in one.chord.tones]
            if one.chord.bass:
                assert two.chord.bass is not None
                assert two.chord.bass.pc == (one.chord.bass.pc + up) % 12
    assert replace(moved, key=tune.key, sections=tune.sections) == tune


def test_a_section_moves_by_the_same_interval():
    tune = parse_tune(
        'title = "T"\nkey = "Eb"\nmeter = "2/2"\ntempo = 100\n[sections]\n'
        'A = "| Eb |"\nB = { bars = "| Ab | Eb7 |", key = "Ab" }\n'
        'C = { bars = "| Cm |", key = "Cm" }\n',
        "",
    )
    moved = transpose_tune(tune, Key.parse("G"))
    assert [str(section.key) for section in moved.sections.values()] == ["G", "C", "Em"]
    assert symbols(moved) == "G C G7 Em"


def test_a_section_whose_key_would_have_no_signature_takes_the_other_name():
    tune = parse_tune(
        'title = "T"\nkey = "C"\nmeter = "4/4"\ntempo = 100\n[sections]\n'
        'A = "| C |"\nB = { bars = "| E | B7 | A |", key = "E" }\n',
        "",
    )
    moved = transpose_tune(tune, Key.parse("F#"))  # A# major would need ten sharps
    assert str(moved.sections["B"].key) == "Bb"
    assert symbols(moved) == "F# Bb F7 Eb"


@pytest.mark.parametrize(("key", "asked", "wanted"), [("Dm", "D", "Dm"), ("F", "Gm", "G")])
def test_the_mode_must_be_the_tunes_own(key, asked, wanted):
    tune = tune_in(key, "C")
    with pytest.raises(InputError) as caught:
        transpose_tune(tune, Key.parse(asked))
    (problem,) = caught.value.problems
    assert (problem.line, problem.column, problem.found) == (2, 7, asked)
    assert problem.hint == f"Ask for {wanted!r}."


@pytest.mark.parametrize("names", [ALL_MAJOR, ALL_MINOR])
def test_all_twelve_keys_are_twelve_sounds(names):
    assert sorted(pc(name.rstrip("m")) for name in names) == list(range(12))
    tune = tune_in(names[0], "C G7")
    assert len({symbols(transpose_tune(tune, Key.parse(name))) for name in names}) == 12


def test_the_tunes_own_key_changes_nothing():
    tune = tune_in("F", "F")
    assert transpose_tune(tune, Key.parse("F")) is tune
