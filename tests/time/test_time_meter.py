"""Meters: lengths, beats and shares, against music21's TimeSignature."""

from __future__ import annotations

from fractions import Fraction

import music21
import pytest

from accomp.errors import InputError
from accomp.files.table import Table
from accomp.files.toml import parse_toml
from accomp.time import METERS, Meter
from accomp.time.meter import METER

# How many tokens a bar of a tune file may hold: the table of the tune-file format.
SHARES = {
    "2/4": (1, 2, 4),
    "2/2": (1, 2, 4),
    "3/4": (1, 3, 6),
    "3/2": (1, 3, 6),
    "4/4": (1, 2, 4, 8),
    "5/4": (1, 5, 10),
    "6/4": (1, 2, 3, 6, 12),
    "3/8": (1, 3),
    "6/8": (1, 2, 6),
    "9/8": (1, 3, 9),
    "12/8": (1, 2, 4, 12),
}


def test_the_meters() -> None:
    assert set(METERS) == set(SHARES)
    for text, shares in SHARES.items():
        assert Meter.parse(text).shares == shares


@pytest.mark.parametrize("text", METERS)
def test_length_of_a_bar_as_music21_has_it(text: str) -> None:
    theirs = music21.meter.TimeSignature(text)
    meter = Meter.parse(text)
    # music21 counts in quarters.
    assert meter.bar == Fraction(theirs.barDuration.quarterLength) / 4
    assert meter.count == theirs.numerator
    assert meter.unit == Fraction(1, theirs.denominator)
    assert str(meter) == text


# They agree throughout, except that music21 does not divide the one beat of 3/8 any further.
@pytest.mark.parametrize("text", METERS)
def test_beat_as_music21_has_it(text: str) -> None:
    theirs = music21.meter.TimeSignature(text)
    meter = Meter.parse(text)
    assert meter.beats == theirs.beatCount
    assert meter.beat == Fraction(theirs.beatDuration.quarterLength) / 4
    # music21 calls a beat compound when it divides in three.
    if text != "3/8":
        assert meter.compound == (theirs.beatDivisionCount == 3)


def test_compound_meters() -> None:
    # Counted in dotted beats: 3/8 is waltz-like and still one beat of three eighths.
    compound = [text for text in METERS if Meter.parse(text).compound]
    assert compound == ["6/4", "3/8", "6/8", "9/8", "12/8"]


@pytest.mark.parametrize("text", METERS)
def test_beats_fill_the_bar(text: str) -> None:
    meter = Meter.parse(text)
    assert meter.beats * meter.beat == meter.bar
    for share in meter.shares:
        assert (meter.bar / share).numerator in (1, 3, 5, 9)


@pytest.mark.parametrize("text", ["7/8", "4/3", "", "44", "4/4 ", "c", "0/4", "-3/4"])
def test_no_meter(text: str) -> None:
    with pytest.raises(ValueError, match="not a meter: expected one of 2/2"):
        Meter.parse(text)


def test_a_meter_in_a_file() -> None:
    top = Table.of(parse_toml('a = "6/8"\nb = "7/8"\nc = "4/4x"\n', "t.toml"))
    four = Meter.parse("4/4")
    assert [top.get(key, METER, four) for key in "abc"] == [Meter.parse("6/8"), four, four]
    with pytest.raises(InputError) as caught:
        top.check()
    told = [(problem.line, problem.hint) for problem in caught.value.problems]
    # The nearest of 7/8 in letters is quite another meter.
    assert told == [(2, "Choose one of these."), (3, "Did you mean '4/4'?")]
