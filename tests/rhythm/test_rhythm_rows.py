"""The spoken count and the rows under it."""

from fractions import Fraction

import pytest

from accomp.files.table import TextError
from accomp.rhythm.rows import WordRow, read_count, under
from accomp.time import METERS, Meter

FOUR = Meter.parse("4/4")


def quarters(text, meter=FOUR, counts=None):
    return [float(place * 4) for place in read_count(text, meter, counts).places]


# Common practice, no source: numbers for the lower figure's units, `&` half-way, `e` and `a` on the
# quarters of the way, a triplet in thirds.
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1 2 3 4", [0, 1, 2, 3]),
        ("1 & 2 &", [0, 0.5, 1, 1.5]),
        ("1 e & a 4 a", [0, 0.25, 0.5, 0.75, 3, 3.75]),
        ("1 & | 1 2", [0, 0.5, 4, 5]),
        ("| 1 | 4 |", [0, 7]),
        ("1|1|1", [0, 4, 8]),
        ("1\n2\n3 4", [0, 1, 2, 3]),
    ],
)
def test_places_of_a_count_in_four(text, expected):
    assert quarters(text) == expected


def test_thirds_are_exact():
    count = read_count("1 trip let 2", FOUR)
    assert count.places == (0, Fraction(1, 12), Fraction(1, 6), Fraction(1, 4))


@pytest.mark.parametrize("meter", METERS)
def test_a_bar_is_counted_in_its_lower_figure(meter):
    upper, lower = (int(part) for part in meter.split("/"))
    count = read_count(" ".join(str(n + 1) for n in range(upper)), Meter.parse(meter))
    assert count.length == Fraction(upper, lower)
    assert count.places == tuple(Fraction(n, lower) for n in range(upper))


def test_length_in_counts_leaves_the_bar():
    assert read_count("1 3", FOUR, Fraction(3)).length == Fraction(3, 4)
    assert quarters("1 5 6", FOUR, Fraction(6)) == [0, 4, 5]


@pytest.mark.parametrize(
    ("text", "counts", "offset", "found", "words"),
    [
        ("", None, 0, "", "empty"),
        ("1 2 3 5", None, 6, "5", "outside a bar of 4/4"),
        ("0 1", None, 0, "0", "outside"),
        ("1 3 2", None, 4, "2", "comes after 3"),
        ("1 2 1 2", None, 4, "1", "comes after 2"),
        ("& 1", None, 0, "&", "no number before it"),
        ("1 2 | & 2", None, 6, "&", "no number before it"),
        ("1 a &", None, 4, "&", "does not come later"),
        ("1 & trip", None, 4, "trip", "does not come later"),
        ("1 two", None, 2, "two", "not a word of the count"),
        ("1 2 | | 1", None, 6, "|", "between two bar lines"),
        ("1 | 1", 4, 4, "|", "no bar lines"),
        ("1 4", 3, 2, "4", "outside the pattern"),
        ("1 2 &", Fraction(3, 2), 4, "&", "outside the pattern"),
        ("1 1000", None, 2, "1000", "not a word"),
    ],
)
def test_a_wrong_count_is_named_with_its_place(text, counts, offset, found, words):
    with pytest.raises(TextError, match=words) as caught:
        read_count(text, FOUR, None if counts is None else Fraction(counts))
    assert (caught.value.offset, caught.value.found) == (offset, found)


def test_one_word_stands_under_every_count():
    count = read_count("1 2 3", FOUR)
    assert [word.text for word in under("down", count)] == ["down"] * 3


def test_bar_lines_in_a_row_are_optional_but_must_fit():
    count = read_count("1 2 | 1 2", FOUR)
    plain = [word.text for word in under("a b c d", count)]
    assert plain == [word.text for word in under("a b | c d", count)]
    with pytest.raises(TextError, match="bar line stands elsewhere"):
        under("a | b c d", count)


@pytest.mark.parametrize("row", ["a b", "a b c d", ""])
def test_a_row_of_another_length_is_an_error(row):
    with pytest.raises(TextError):
        under(row, read_count("1 2 3", FOUR))


def test_bars_are_counted_with_and_without_outer_lines():
    assert [WordRow.split(text).bars for text in ("1", "1 |", "| 1 |", "1 | 1", "| 1 | 1 |")] == [
        1, 1, 1, 2, 2,
    ]  # fmt: skip
