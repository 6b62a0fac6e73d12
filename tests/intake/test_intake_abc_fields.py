"""What the header fields of an ABC tune say, how a file falls into tunes, and bounds of numbers.

Rules: the ABC standard 2.1, abcnotation.com/wiki/abc:standard:v2.1 (from memory).
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from accomp.errors import InputError, Problem
from accomp.harmony import Key
from accomp.intake.abc import read_abc
from accomp.intake.abc_fields import (
    AbcKey,
    abc_symbol,
    read_key,
    read_meter,
    read_parts,
    read_tempo,
    read_unit,
    usual_unit,
)
from accomp.intake.numbers import WrongNumberError
from accomp.intake.written import WrittenTune
from accomp.time import MOST_BARS

PATH = Path("lane.abc")


def tunes(text: str) -> list[WrittenTune]:
    return read_abc(text, PATH)


MIXED = "its mode is mixolydian; the key is taken as G"
OWN = "signs of its own in the key signature are not taken over"
KEYS = [
    ("C", "C", 0, ""), ("G", "G", 1, ""), ("F#", "F#", 6, ""), ("Bb", "Bb", -2, ""),
    ("B♭", "Bb", -2, ""), ("F♯m", "F#m", 3, ""), (" D ", "D", 2, ""), ("Am", "Am", 0, ""),
    ("A minor", "Am", 0, ""), ("Amin", "Am", 0, ""), ("A Major", "A", 3, ""), ("Cmaj", "C", 0, ""),
    ("C ionian", "C", 0, ""), ("Aaeo", "Am", 0, ""), ("AAeolian", "Am", 0, ""),
    ("Gmix", "G", 0, MIXED), ("G Mixolydian", "G", 0, MIXED),
    ("Ddor", "Dm", 0, "its mode is dorian; the key is taken as Dm"),
    ("Ephr", "Em", 0, "its mode is phrygian; the key is taken as Em"),
    ("Flyd", "F", 0, "its mode is lydian; the key is taken as F"),
    ("Bloc", "Bm", 0, "its mode is locrian; the key is taken as Bm"),
    ("G clef=bass", "G", 1, ""), ("G treble", "G", 1, ""), ("Gm clef=bass", "Gm", -2, ""),
    ("", "C", 0, ""), ("none", "C", 0, "no key is given; C is taken"),
    ("clef=bass", "C", 0, "no key is given; C is taken"),
    ("c", "C", 0, "no key is given; C is taken"),
    ("HP", "D", 2, "the pipes' signature is taken as D"),
    ("Hp", "D", 2, "the pipes' signature is taken as D"),
    ("HPx", "C", 0, "no key is given; C is taken"),
    ("G#", "C", 0, "G# has no key signature; C is taken"),
    ("D _b", "D", 2, OWN), ("D ^c", "D", 2, OWN), ("D =f", "D", 2, OWN), ("D __b", "D", 2, OWN),
    ("D exp", "D", 2, OWN), ("D _x", "D", 2, ""), ("D a_b", "D", 2, ""), ("D expo", "D", 2, ""),
    ("Gmix ^c", "G", 0, f"{MIXED}; {OWN}"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "key", "fifths", "notice"), KEYS)
def test_keys(text: str, key: str, fifths: int, notice: str) -> None:
    assert read_key(text) == AbcKey(Key.parse(key), fifths, notice)


def test_meters_and_units() -> None:
    for texts, meter in (
        (("C", "c", " C ", "4/4", "4 / 4"), "4/4"),
        (("C|", "c|"), "2/2"),
        (("none", "None", "", " "), ""),
        (("2+3/8",), "2+3/8"),
        (("1" * 30,), "1" * 20),
    ):
        assert {read_meter(text) for text in texts} == {meter}
    assert [read_unit(text) for text in ("1/8", "3/16", "1", "512", "512/512", "1/512", " ")] == [
        Fraction(1, 8), Fraction(3, 16), 1, 512, 1, Fraction(1, 512), None,
    ]  # fmt: skip
    short = {"2/4", "3/8"}
    for meter in ("2/4", "3/8", "3/4", "6/8", "4/4", "12/8", "7/8", ""):
        assert usual_unit(meter) == Fraction(1, 16 if meter in short else 8)


@pytest.mark.parametrize(
    ("text", "tempo"),
    [
        ("1/4=120", 30), ("1/4 = 120", 30), ("3/8=80", 30), ("1/4 1/8=80", 30), ("120", 15),
        ('"Lively" 1/4=120', 30), ('1/4=120 "Lively"', 30), ("C=120", 15), ("C3=120", 15),
        ("1 / 4=120", 30), ("1/4=0", None), ("0", None), ("", None), ("Lively", None),
        ("1/4=", None), ("1/4=100-120", None), ("1/4=100000", 25000), ("1/512=512", 1),
        ("512/1=1", 512),
    ],
)  # fmt: skip
def test_tempo(text: str, tempo: int | None) -> None:
    assert read_tempo(text, Fraction(1, 8)) == tempo


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("AB", "AB"), ("A2B", "AAB"), ("A.B, C", "ABC"), ("(AB)2C", "ABABC"), ("(A2B)2", "AABAAB"),
        ("((A)2B)2", "AABAAB"), ("A0B", "B"), ("", ""), ("A99", "A" * 99), ("(A)0", ""),
        ("(A99)5B5", "A" * 495 + "B" * 5), ("(A99)5B6", None), ("a", None), ("A)", None),
        ("(A", None), ("()2", ""), ("A-B", None),
    ],
)  # fmt: skip
def test_order_of_parts(text: str, parts: str | None) -> None:
    assert read_parts(text) == (None if parts is None else tuple(parts))


NONE = " is no chord symbol and is left out"


@pytest.mark.parametrize(
    ("text", "symbol", "said"),
    [
        ("C", "C", ""), ("C / g", "C/G", ""), ("C/G", "C/G", ""), ("Am/c", "Am/C", ""),
        ("D/f+", "D/F#", ""), ("D/e-", "D/Eb", ""), ("D/f#", "D/F#", ""), ("(C)", "C", ""),
        ("( Am7 )", "Am7", ""), ("C;Am", "C", "Am is only an alternative to C and is left out"),
        ("C (Am)", "C", "Am is only an alternative to C and is left out"),
        ("nc", None, ""), ("H", "", f"'H'{NONE}; the chord before it goes on"),
        ("(x)", "", f"'(x)'{NONE}; the chord before it goes on"),
        ("x(C)", "", f"'x(C)'{NONE}; the chord before it goes on"),
        ("very  slow", "", f"'very slow'{NONE}; the chord before it goes on"),
        ("x" * 80, "", f"'{'x' * 40}'{NONE}; the chord before it goes on"),
        ("x" * 81, "", f"'{'x' * 40}' ...{NONE}"),
        ("C" + " " * 79, "C", ""), ("C" + " " * 80, "", f"{'C' + ' ' * 39!r} ...{NONE}"),
    ],
)  # fmt: skip
def test_texts_over_notes(text: str, symbol: str | None, said: str) -> None:
    assert abc_symbol(text) == (symbol, said)


# What a number may be: a tune with it, the lowest and the highest, and its name in a message.
NOTE = "X:1\nT:T\nL:1/512\nK:C\n{}|\n"
BOUNDS = [
    ("X:1\nT:T\nL:{}/512\nK:C\nC|\n", 1, 512, "the upper number of a note length"),
    ("X:1\nT:T\nL:1/{}\nK:C\nC|\n", 1, 512, "the lower number of a note length"),
    ("X:1\nT:T\nP:A{}\nK:C\nC|\n", 0, 99, "how often a part is played"),
    (NOTE.format("C{}"), 1, 9999, "a note length"),
    (NOTE.format("C/{}"), 1, 512, "what a note length is divided by"),
    (NOTE.format("C|Z{}"), 0, MOST_BARS, "how many bars a rest lasts"),
    (NOTE.format("C|{}C"), 0, 99, "an ending"),
    (NOTE.format("C|[{}C"), 0, 99, "an ending"),
    ("X:1\nT:T &#{};\nK:C\nC|\n", None, None, ""),
]


@pytest.mark.parametrize(("text", "least", "most", "what"), BOUNDS[:-1])
def test_numbers_have_bounds(text: str, least: int, most: int, what: str) -> None:
    for good in (least, most):
        (tune,) = tunes(text.format(good))
        assert tune.problems == []
    for wrong in (str(most + 1), "0") if least else (str(most + 1),):
        (tune,) = tunes(text.format(wrong))
        (problem,) = tune.problems
        expected = f"a whole number from {least:,} to {most:,}"
        assert problem.message == f"'T': {what} must be {expected}, and this is '{wrong}'."
        lines = text.split("\n")
        line = next(at for at, row in enumerate(lines, 1) if "{}" in row)
        assert problem.line == line


@pytest.mark.parametrize("text", ["Q:100001", "Q:1/4=100001"])
def test_a_tempo_has_bounds(text: str) -> None:
    (tune,) = tunes(f"X:1\nT:T\n{text}\nK:C\nC|\n")
    assert tune.problems[0].message == (
        "'T': the tempo must be a number from 0 to 100,000, and this is '100001'."
    )


def test_slashes_halve_up_to_the_finest_note() -> None:
    (tune,) = tunes(NOTE.format("C" + "/" * 9))
    assert tune.bars[0].length == Fraction(1, 512 * 512)
    (tune,) = tunes(NOTE.format("C" + "/" * 10))
    assert tune.problems[0].found == "'1024'"
    (tune,) = tunes(NOTE.format("C" + "/" * 600))
    assert tune.problems[0].found == repr("/" * 37 + "...")


def test_numbers_of_characters_have_bounds() -> None:
    for text, title in (("&#65;", "A"), ("&#x41;", "A"), ("&#99999999;", "\ufffd")):
        (tune,) = tunes(f"X:1\nT:{text}\nK:C\nC|\n")
        assert (tune.title, tune.problems) == (title, [])
    for text in ("&#999999999;", "&#xFFFFFFFF;"):
        (tune,) = tunes(f"X:1\nT:{text}\nK:C\nC|\n")
        (problem,) = tune.problems
        assert "'lane': the number of a character must be a whole number" in problem.message
        assert (problem.line, problem.column) == (2, 3)


# --- heads ---------------------------------------------------------------------------------------


def facts(tune: WrittenTune) -> tuple[str, str, str, str, int]:
    bar = tune.bars[0]
    return tune.title, tune.composer, bar.meter, str(bar.key), tune.line


def test_what_a_head_says() -> None:
    (tune,) = tunes(
        "X: 7\nT: The \\ Lane \nT:Other\nC:A. Hand\nC:B. Hand\nM:3/4\nM:2/4\nK:G\nC4|\n"
    )
    assert facts(tune) == ("The Lane", "A. Hand", "2/4", "G", 1)
    assert tune.bars[0].length == Fraction(1, 4)  # a sixteenth is the unit of short meters
    (tune,) = tunes("X:7\nK:G\nC4|\n")
    assert facts(tune) == ("lane", "", "", "G", 1)
    (tune,) = tunes("X:7\nM:7/8\nQ:60\nK:G\nC4|\n")
    assert tune.tempo == 15  # of an unknown meter a quarter is the beat
    (tune,) = tunes("X:7\nM:6/8\nQ:60\nK:G\nC4|\n")
    assert tune.tempo == Fraction(45, 2)


@pytest.mark.parametrize(
    ("field", "said"),
    [
        ("Q:90", ["the tempo 90 is taken as beats a minute"]),
        ("Q:1/4=90", []),
        ("Q:Lively", []),
        ("Q:0", ["the tempo '0' is not understood"]),
        (f"Q:90-{'9' * 50}", [f"the tempo '90-{'9' * 37}' is not understood"]),
        ("P:A-B", ["the order of parts 'A-B' is not understood"]),
        ("P:" + "a" * 50, [f"the order of parts '{'a' * 40}' is not understood"]),
    ],
)
def test_what_of_a_head_is_not_understood(field: str, said: list[str]) -> None:
    (tune,) = tunes(f"X:1\n{field}\nK:C\nC4|\n")
    assert list(tune.said) == said


def test_an_order_of_parts_counts_where_one_of_them_is_there() -> None:
    text = "X:1\nP:{}\nK:C\nP:A\nC4|\nP:B\nD4|\n"
    assert [tunes(text.format(parts))[0].parts for parts in ("BA", "AX", "XY", "")] == [
        ("B", "A"), ("A", "X"), (), (),
    ]  # fmt: skip


def melodies(text: str) -> list[str]:
    """By tune, the letters of its notes."""
    return [
        "".join(n.pitch.spelling.step for b in one.bars for n in b.notes) for one in tunes(text)
    ]


TUNE = "X:1\nK:C\n"


@pytest.mark.parametrize(
    ("text", "notes"),
    [
        # where tunes begin and end
        (TUNE + "CD|\n" + TUNE + "EF|\n", ["CD", "EF"]),
        (TUNE + "CD|\n\nEF|\n", ["CD"]),
        (TUNE + "\nCD|\n", [""]),
        ("K:C\nCD|\n\nEF|\n", ["CDEF"]),  # without numbers it is one tune
        ("text\n" + TUNE + "CD|\n", ["CD"]),
        ("AB|\n" + TUNE + "CD|\n", ["CD"]),
        # comments, fields and continuations
        (TUNE + "CD% EF|\n", ["CD"]), (TUNE + "CD\\%\nEF|\n", ["CDEF"]),
        (TUNE + "%EF|\nCD|\n", ["CD"]), (TUNE + "%\nCD|\n%\nEF|\n", ["CDEF"]),
        (TUNE + "CD|\nT:DD\nEF|\n", ["CDEF"]), (TUNE + "CD|\nw:DD\nEF|\n", ["CDEF"]),
        # voices: the one with the most symbols, with what stands before all of them
        (TUNE + 'AB|\nV:1\nC|\nV:2\n"D"D|\n', ["ABD"]),
        (TUNE + 'V:1\n"C"C|\nV:2\n"D"D|\n', ["C"]),
        (TUNE + 'V:1\n"C"C|\nV:2\n"D"D"E"E|\nV:1\n"F"F|"G"G|\n', ["CFG"]),
        (TUNE + '[V:1]"C"C|[V:2]D|[V:1]E|\n', ["CE"]), (TUNE + '[V: 1 x]"C"C|[V:2]D|\n', ["C"]),
        (TUNE + 'V:1 name="DDD"\n"C"C|\nV:\nF|\n', ["FC"]),
    ],
)  # fmt: skip
def test_which_lines_are_whose(text: str, notes: list[str]) -> None:
    assert melodies(text) == notes


def test_voices_that_are_not_taken_are_named() -> None:
    (tune,) = tunes(TUNE + f'V:1\nC|\nV:{"x" * 30}\nD|\nV:2\n"C"D|\n')
    assert tune.said == (
        "the voice '1' is not taken over",
        f"the voice '{'x' * 20}' is not taken over",
    )


def test_what_stands_before_the_first_tune_counts_for_all() -> None:
    first, second = tunes(
        "M:3/4\nC:One\nC:Two\nM:2/4\nT:No\n\n" + TUNE + "C|\n\nM:4/4\n" + "X:2\nC:Own\nK:F\nC|\n"
    )
    assert facts(first) == ("lane", "One", "2/4", "C", 7)
    assert facts(second) == ("lane", "One", "2/4", "F", 12)


def test_music_behind_an_empty_line_is_told_once_of_each_tune() -> None:
    first, second, third = tunes(
        TUNE + "C|\n\nno music\nD|\nE|\n" + "X:2\nK:C\nF|\n\nX:3\nK:C\nG|\n\nA|\n"
    )
    said = "line {}: music after the empty line is no longer part of the tune and is left out"
    assert (first.said, second.said, third.said) == ((said.format(6),), (), (said.format(16),))


def test_no_tune_at_all_is_one_problem() -> None:
    with pytest.raises(InputError) as caught:
        tunes("Dear  reader,\n" + "x" * 100)
    assert caught.value.problems == (
        Problem(
            "there is no tune in it: no line begins with X: or K:.",
            "lane.abc",
            1,
            1,
            f"Dear reader, {'x' * 27}",
            "ABC, with X: and K: lines",
            "Is this the right file?",
        ),
    )


def test_a_wrong_number_in_music_stands_at_its_character() -> None:
    for music, place in (("C4|D0|", (3, 4)), ("[V:1]C0|", (3, 6)), ("C|\nD E/0|", (4, 3))):
        (tune,) = tunes(f"{TUNE}{music}\n")
        (problem,) = tune.problems
        assert (problem.line, problem.column) == place
    with pytest.raises(WrongNumberError):
        read_parts("A100")
