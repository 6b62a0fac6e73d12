"""The limits of instrument and hand files and of wishes, from both sides."""

from __future__ import annotations

import re

import pytest

from accomp.errors import InputError
from accomp.neck import find_hand, find_instrument
from accomp.neck.player import Wish
from accomp.neck.read import read_instrument, usual_octave

INSTRUMENT = 'strings = ["C3", "G3", "D4", "A4"]\nfrets = {frets}\nscale = {scale}\n{more}\n'
LIMITS = [
    ("frets = {}", 1, 36, 1), ("scale = {}", 100, 2000, 1), ("octave = {}", -1, 2, 1),
    ("program = {}", 1, 128, 1), ("courses = {}", 1, 3, 1), ("sounding = {}", 2, 4, 1),
]  # fmt: skip
HAND_LIMITS = [
    ("comfort = 1\ngreatest = {}", 1, 400, 1), ("greatest = 400\ncomfort = {}", 1, 400, 1),
    ("comfort = 80\ngreatest = 95\nneighbour = {}", 0.1, 1, 0.05),
]  # fmt: skip


def both_sides(read, write, low: float, high: float, step: float) -> None:
    for value in (low, high):
        read(write(value))
    for value in (low - step, high + step):
        with pytest.raises(InputError) as caught:
            read(write(value))
        told = [str(problem) for problem in caught.value.problems]
        assert any(f"from {low:g} to {high:g}, and this is {value:g}" in text for text in told), (
            told
        )


@pytest.mark.parametrize(("line", "low", "high", "step"), LIMITS)
def test_limits_of_an_instrument_file(tmp_path, line, low, high, step) -> None:
    def write(value: float):
        path = tmp_path / "own.toml"
        fields = {"frets": "17", "scale": "533", "more": ""}
        key = line.split()[0]
        text = line.format(value)
        fields |= {key: str(value)} if key in fields else {"more": text}
        path.write_text(INSTRUMENT.format(**fields))
        return path

    both_sides(read_instrument, write, low, high, step)


@pytest.mark.parametrize(("line", "low", "high", "step"), HAND_LIMITS)
def test_limits_of_a_hand_file(tmp_path, line, low, high, step) -> None:
    def write(value: float):
        path = tmp_path / "own.toml"
        path.write_text(line.format(value) + "\n")
        return path

    both_sides(lambda path: find_hand(str(path)), write, low, high, step)


def test_a_comfort_beyond_the_greatest_reach(tmp_path) -> None:
    path = tmp_path / "own.toml"
    path.write_text("comfort = 96\ngreatest = 95\n")
    with pytest.raises(InputError, match=re.escape("at most the greatest reach, 95")) as caught:
        find_hand(str(path))
    assert caught.value.problems[0].hint == "The nearest is 95."
    path.write_text("comfort = 95\ngreatest = 95\n")
    own = find_hand(str(path))
    assert (own.name, own.title, own.neighbour) == ("own", "own", 0.62)
    assert own.may_span(1, 58.9)
    assert not own.may_span(1, 58.91)
    assert own.may_span(2, 95)
    assert not own.may_span(2, 95.1)
    assert own.with_reach(0.5).comfort_mm == 0.5
    assert own.with_reach(400).greatest_mm == 400


def test_what_an_instrument_file_leaves_out(tmp_path) -> None:
    path = tmp_path / "own.toml"
    for tuning, octave, sounding in (
        ('"C3", "G3"', 1, 2), ('"G3", "D4", "A4"', 0, 3), ('"F#3", "D4", "A4", "E5", "G5"', 1, 4),
    ):  # fmt: skip
        path.write_text(f"strings = [{tuning}]\nfrets = 17\nscale = 533\n")
        made = read_instrument(path)
        assert (made.octave, made.sounding, made.program, made.courses) == (
            octave,
            sounding,
            106,
            1,
        )
        how = "an octave above its sound" if octave else "at pitch"
        assert made.notices == (
            f"own has no `octave`: it is written {how}, as instruments tuned like it are.",
        )
    assert usual_octave(()) == 0
    path.write_text('strings = ["C-1", "G9"]\nfrets = 17\nscale = 533\noctave = 0\n')
    assert read_instrument(path).open_pitches == (0, 127)
    assert read_instrument(path).notices == ()
    path.write_text('strings = ["C-1", "G#9"]\nfrets = 17\nscale = 533\n')
    with pytest.raises(InputError, match="a note name and an octave in quotes"):
        read_instrument(path)
    eleven = find_instrument("tenor-banjo")
    assert [eleven.string_number(index) for index in range(4)] == [4, 3, 2, 1]
    assert eleven.fret_mm(12) == pytest.approx(eleven.scale_mm / 2)


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ({"positions": ("root-top", " ")}, "a position has no name."),
        ({"vocabulary": "some"}, "'some' is no vocabulary."),
        ({"span_frets": -1}, "the index finger cannot stay within -1 frets."),
    ],
)
def test_a_wish_that_cannot_be_meant_in_whole_sentences(wrong: dict, told: str) -> None:
    with pytest.raises(InputError) as caught:
        Wish(**wrong)
    assert caught.value.problems[0].message == told
    assert Wish(span_frets=0).span_frets == 0
    assert [Wish(vocabulary=word).vocabulary for word in ("first", "inversions", "all")]
