import pytest

from accomp.errors import InputError
from accomp.files import data
from accomp.neck import find_hand, find_instrument, instrument_names, read_instrument

# Common practice, no source: tunings as every tutor gives them; written octave: banjos, tenor
# guitar and guitar an octave above their sound, mandolin and ukulele at pitch. General MIDI 1
# programs: 106 banjo, 25 nylon and 26 steel guitar.
TABLE = [
    ("tenor-banjo", "C3 G3 D4 A4", 17, 533, 1, 106, 1),
    ("tenor-banjo-19", "C3 G3 D4 A4", 19, 584, 1, 106, 1),
    ("irish-tenor-banjo", "G2 D3 A3 E4", 19, 584, 1, 106, 1),
    ("plectrum-banjo", "C3 G3 B3 D4", 22, 680, 1, 106, 1),
    ("tenor-guitar", "C3 G3 D4 A4", 19, 584, 1, 26, 1),
    ("mandolin", "G3 D4 A4 E5", 20, 352, 0, 26, 2),
    ("ukulele", "G4 C4 E4 A4", 15, 380, 0, 25, 1),
    ("guitar", "E2 A2 D3 G3 B3 E4", 20, 648, 1, 26, 1),
]


@pytest.mark.parametrize(
    ("name", "strings", "frets", "scale", "octave", "program", "courses"), TABLE
)
def test_instruments_that_come_with_the_package(
    name, strings, frets, scale, octave, program, courses
):
    one = find_instrument(name)
    assert " ".join(str(pitch) for pitch in one.strings) == strings
    assert (one.frets, one.scale_mm, one.octave) == (frets, scale, octave)
    assert (one.program, one.courses, one.sounding) == (program, courses, 4)


def test_the_table_holds_every_instrument():
    assert set(instrument_names()) == {row[0] for row in TABLE}


def test_frets_lie_by_equal_temperament():
    # L (1 - 2^(-n/12)): the twelfth fret at half the scale, the seventh at 533 x 0.33258 mm.
    tenor = find_instrument("tenor-banjo")
    assert tenor.fret_mm(12) == pytest.approx(266.5)
    assert tenor.fret_mm(7) == pytest.approx(177.27, abs=0.01)
    assert tenor.fret_mm(0) == 0


def test_a_users_own_file(tmp_path):
    path = tmp_path / "octave-mandolin.toml"
    path.write_text('title = "Octave mandolin"\nstrings = ["G2", "D3", "A3", "E4"]\n'
                    "frets = 18\nscale = 520\ncourses = 2\noctave = 1\n")  # fmt: skip
    one = find_instrument(str(path))
    assert (one.name, one.title, one.courses) == ("octave-mandolin", "Octave mandolin", 2)
    assert one.open_pitches == (43, 50, 57, 64)
    assert one.string_number(0) == 4


GOOD = 'title = "X"\nstrings = ["C3", "G3", "D4", "A4"]\nfrets = 17\nscale = 533\n'
BAD = [
    (GOOD.replace("scale = 533\n", ""), "'scale' is missing: it must be a number from 100", 1, 1),
    (GOOD.replace("533", "-533"), "a number from 100 to 2000, and this is -533", 4, 9),
    (GOOD.replace("533", "inf"), "a number from 100 to 2000, and this is inf", 4, 9),
    (GOOD.replace("= 17", "= 37"), "'frets' must be a whole number from 1 to 36, and", 3, 9),
    (GOOD.replace("= 17", "= 0"), "whole number from 1 to 36, and this is 0", 3, 9),
    (GOOD.replace("= 17", "= 17.5"), "whole number from 1 to 36, and this is 17.5", 3, 9),
    (GOOD.replace('["C3", "G3", "D4", "A4"]', '["C3"]'), "of 2 to 12, each a note name", 2, 11),
    (GOOD.replace('"D4"', '"H4"'), "'strings' must be a note name and an octave", 2, 24),
    (GOOD.replace('"D4"', "4"), "as C3 or Bb2, and this is 4.", 2, 24),
    (GOOD.replace('["C3", "G3", "D4", "A4"]', '"CGDA"'), "and this is 'CGDA'", 2, 11),
    (GOOD + "program = 129\n", "number from 1 to 128, and this is 129", 5, 11),
    (GOOD + "scael = 3\n", "'scael' is not known here", 5, 1),
]  # fmt: skip


@pytest.mark.parametrize(("text", "message", "line", "column"), BAD)
def test_a_wrong_instrument_file_says_where_and_what(tmp_path, text, message, line, column):
    path = tmp_path / "bad.toml"
    path.write_text(text)
    with pytest.raises(InputError) as caught:
        read_instrument(path)
    problem = caught.value.problems[0]
    assert message in problem.message
    assert (problem.file, problem.line, problem.column) == (str(path), line, column)
    assert problem.expected or problem.hint


def test_every_problem_of_a_file_at_once(tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text('strings = ["C3", "Q", "D4", ""]\nfrets = -1\nscale = "long"\n')
    with pytest.raises(InputError) as caught:
        read_instrument(path)
    assert [problem.line for problem in caught.value.problems] == [1, 1, 2, 3]


def test_unknown_names_suggest_the_nearest():
    with pytest.raises(InputError, match="Did you mean 'ukulele'"):
        find_instrument("ukelele")
    with pytest.raises(InputError, match="Known hands: large, medium, small"):
        find_hand("tiny")
    for path in ("mine.toml", "nowhere/mine.toml", "nowhere/mine"):
        with pytest.raises(InputError, match=f"{path}: there is no such file"):
            find_instrument(path)


def test_hands():
    # Common practice: the medium hand, comfortable 80 mm, greatest 95 mm.
    medium = find_hand("medium")
    assert (medium.comfort_mm, medium.greatest_mm) == (80, 95)
    sizes = [find_hand(name) for name in ("small", "medium", "large")]
    assert sorted(data.names("hands")) == ["large", "medium", "small"]
    assert [hand.greatest_mm for hand in sizes] == sorted(hand.greatest_mm for hand in sizes)
    wide = medium.with_reach(105)
    assert (wide.greatest_mm, wide.comfort_mm) == (105, 80)
    assert medium.with_reach(60).comfort_mm == 60


@pytest.mark.parametrize("reach", [0, -5, 401, float("nan"), float("inf")])
def test_a_reach_that_is_no_hands(reach):
    with pytest.raises(InputError, match="no hand's"):
        find_hand("medium").with_reach(reach)
