"""A lead sheet as written: what is said of it, how much of anything, and what numbers may be."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from accomp.errors import Problem
from accomp.intake.abc_bars import Bars
from accomp.intake.numbers import (
    TooManyError,
    WrongNumberError,
    read_number,
    read_whole,
    time_in_bar,
)
from accomp.intake.written import WrittenChord, WrittenTune, add_chord, too_many


def tune(title: str = "Made Up") -> WrittenTune:
    return WrittenTune(title, "")


def test_nothing_is_said_twice_and_no_more_than_anybody_reads() -> None:
    one = tune()
    one.notice("3", "odd")
    one.say("bar 3: odd")
    assert one.said == ("bar 3: odd",)
    for number in range(1, 200):
        one.say(f"thing {number}")
    assert len(one.said) == 200
    one.say("thing 7")  # what is over is counted, not looked at
    assert one.said[200:] == ("1 more things are not as they should be",)
    one.leave_out("1", "lyrics")
    assert one.said[200:] == (
        "bar 1: lyrics not taken over",
        "1 more things are not as they should be",
    )


def test_a_thousand_things_are_said_of_the_bars_of_a_tune() -> None:
    one = tune()
    bars = Bars(one, "4/4")
    bars.open.onset = Fraction(1)
    for number in range(1001):
        bars.say(f"thing {number}")
    bars.finish()
    assert one.said[199:] == ("bar 1: thing 199", "800 more things are not as they should be")


@pytest.mark.parametrize(
    ("bars", "text"),
    [
        ("1", "bar 1: lyrics not taken over"),
        ("1 1 1", "bar 1: lyrics not taken over"),
        ("1 2 1", "bars 1, 2, 1: lyrics not taken over"),
        ("1 2 3 4 5 6 7 8", "bars 1, 2, 3, 4, 5, 6, 7, 8: lyrics not taken over"),
        ("1 2 3 4 5 6 7 8 9", "bars 1, 2, 3, 4, 5, 6, 7, 8 and others: lyrics not taken over"),
    ],
)
def test_what_is_left_out_is_told_once_with_its_bars(bars: str, text: str) -> None:
    one = tune()
    for bar in bars.split():
        one.leave_out(bar, "lyrics")
    assert one.said == (text,)


def test_problems_of_a_tune_have_its_name_and_are_not_endless() -> None:
    one = tune("x" * 61)
    one.wrong("no.", 3, 4, "it", "that")
    hint = "Put it right in the program that the file comes from, or in the file itself."
    assert one.problems == [Problem(f"{'x' * 60!r}: no.", "", 3, 4, "it", "that", hint)]
    for at in range(30):
        assert one.hopeless is (at >= 19)
        one.wrong("no.", 3, 4, "it", "that")
    assert len(one.problems) == 20


def test_a_wrong_number_stands_where_it_is_read() -> None:
    one = tune()
    for line, offset in ((0, 0), (0, 5), (7, 5), (9, 5)):
        with one.reading(7, 3):
            error = WrongNumberError("it", "9", "less", line)
            error.offset = offset
            raise error
    assert [(problem.line, problem.column) for problem in one.problems] == [
        (7, 3), (7, 8), (7, 8), (9, 0),
    ]  # fmt: skip
    with one.reading(7):
        raise WrongNumberError("it", "9", "less")
    assert (one.problems[-1].line, one.problems[-1].column) == (7, 0)
    assert not one.stopped
    with one.reading(7):
        raise TooManyError("bars", 1000)
    assert one.stopped
    assert one.hopeless
    assert one.problems[-1].message == (
        "'Made Up': the number of bars must be at most 1,000, and this is more."
    )


def test_a_thousand_texts_that_are_no_chords_are_too_many() -> None:
    one = tune()
    for at in range(1000):
        one.lose(f"x{at}")
    one.lose("x7")
    with pytest.raises(TooManyError, match="chord symbols that cannot be read must be at most 1,0"):
        one.lose("y")


def test_of_two_chords_at_one_place_the_first_stays() -> None:
    chords: list[WrittenChord] = []
    said: list[str] = []
    half = Fraction(1, 2)
    for onset, symbol in ((0, "C"), (half, None), (0, "C"), (0, "F"), (half, "G"), (0, None)):
        add_chord(chords, Fraction(onset), symbol, said.append)
    assert chords == [WrittenChord(Fraction(0), "C"), WrittenChord(half, None)]
    assert said == [
        "F stands at the same place as C and is left out",
        "G stands at the same place as N.C. and is left out",
        "N.C. stands at the same place as C and is left out",
    ]


def test_a_bar_has_room_for_64_chords() -> None:
    chords: list[WrittenChord] = []
    said: list[str] = []
    for at in range(64):
        add_chord(chords, Fraction(at, 64), "C", said.append)
    assert (len(chords), said) == (64, [])
    for symbol in ("F", None):
        add_chord(chords, Fraction(65, 64), symbol, said.append)
    assert len(chords) == 64
    assert said == [
        "F and what follows it finds no room and is left out",
        "N.C. and what follows it finds no room and is left out",
    ]


def test_a_file_of_too_much_is_one_problem_with_its_line() -> None:
    assert too_many(Path("x.abc"), 7, "3 bars").problems == (
        Problem(
            "it holds more than 3 bars.",
            "x.abc",
            7,
            0,
            "more than 3 bars",
            "at most 3 bars",
            "Split it into several files.",
        ),
    )


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("x" * 40, repr("x" * 40)),
        ("x" * 41, repr("x" * 37 + "...")),
        (" a \n b ", "'a b'"),
        ("9" * 13, repr("9" * 13)),  # twelve digits are read
        ("0." + "1" * 21, repr("0." + "1" * 21)),  # and twenty decimals
        ("." + "1" * 21, repr("." + "1" * 21)),
    ],
)
def test_what_was_found_is_short_enough_to_print(text: str, found: str) -> None:
    for read in (read_number, read_whole):
        with pytest.raises(WrongNumberError) as caught:
            read(text, "it", 0, 10**13)
        assert caught.value.found == found
        assert (caught.value.line, caught.value.offset) == (0, 0)


def test_numbers_are_read_up_to_their_digits_and_rounded_to_millionths() -> None:
    assert read_number("9" * 12, "it", 0, 10**13) == 10**12 - 1
    for text in ("0." + "1" * 20, "." + "1" * 20):
        assert read_number(text, "it", 0, 1) == Fraction(111111, 1000000)
    for text, millionths in (("0.0000004", 0), ("0.0000006", 1), ("-0.0000006", -1)):
        assert read_number(text, "it", -1, 1) == Fraction(millionths, 10**6)
    with pytest.raises(WrongNumberError) as caught:
        read_number("2000", "it", 0, 1999, line=4)
    assert caught.value.expected == "a number from 0 to 1,999"
    assert caught.value.line == 4


def test_a_bar_is_measured_with_the_whole_sentence() -> None:
    for time, message in (
        (Fraction(201, 2), "a bar must be at most 100 whole notes long, and this is longer."),
        (
            Fraction(1, 10**15 + 1),
            "the note lengths of a bar must be sums of halves, quarters, triplets and the like, "
            "and this is far too fine a division.",
        ),
    ):
        with pytest.raises(WrongNumberError) as caught:
            time_in_bar(time, line=5)
        assert (str(caught.value), caught.value.line) == (message, 5)
