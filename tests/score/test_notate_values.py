"""Values and splits. Cases are common practice (no one source); the laws are checked at random
against the definitions alone."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from accomp.score.notate_values import note_pieces, plain_value, rest_pieces
from accomp.time import METERS, Meter

# meter, start, end, the values in order as durations
NOTES = [
    ("4/4", "0", "1", ["1"]),
    ("4/4", "0", "3/4", ["3/4"]),
    ("4/4", "0", "3/8", ["3/8"]),  # a dotted quarter on the beat
    ("4/4", "3/8", "1", ["1/8", "1/2"]),  # the second note of a charleston
    ("4/4", "1/8", "3/8", ["1/8", "1/8"]),  # off the beat: tied at the beat
    ("4/4", "1/4", "3/4", ["1/4", "1/4"]),  # the middle of the bar is seen
    ("4/4", "1/4", "1", ["1/4", "1/2"]),
    ("4/4", "0", "5/8", ["1/2", "1/8"]),
    ("4/4", "0", "7/8", ["3/4", "1/8"]),
    ("4/4", "1/16", "3/16", ["1/8"]),  # sixteenth, eighth, sixteenth inside a beat
    ("3/4", "1/4", "3/4", ["1/2"]),
    ("3/4", "0", "5/8", ["1/2", "1/8"]),
    ("2/2", "1/8", "3/8", ["1/4"]),  # eighth, quarter, eighth inside a half
    ("2/2", "1/4", "3/4", ["1/4", "1/4"]),
    ("3/2", "1/2", "3/2", ["1"]),
    ("6/8", "0", "3/4", ["3/4"]),
    ("6/8", "0", "1/2", ["3/8", "1/8"]),  # never a half note over two dotted beats
    ("6/8", "1/8", "3/8", ["1/4"]),
    ("6/8", "1/4", "1/2", ["1/8", "1/8"]),
    ("9/8", "0", "9/8", ["3/4", "3/8"]),
    ("12/8", "0", "3/2", ["3/2"]),
    ("12/8", "3/8", "9/8", ["3/8", "3/8"]),
    ("5/4", "0", "5/4", ["3/4", "1/2"]),
    ("6/4", "0", "3/2", ["3/2"]),
    ("3/8", "0", "3/8", ["3/8"]),
]
RESTS = [
    ("4/4", "0", "1/2", ["1/2"]),
    ("4/4", "1/4", "3/4", ["1/4", "1/4"]),
    ("4/4", "1/8", "1", ["1/8", "1/4", "1/2"]),
    ("4/4", "0", "3/8", ["1/4", "1/8"]),  # no dotted rests in simple meters
    ("3/4", "1/4", "3/4", ["1/4", "1/4"]),
    ("2/2", "1/2", "1", ["1/2"]),
    ("6/8", "3/8", "3/4", ["3/8"]),  # a whole dotted beat
    ("6/8", "1/8", "3/8", ["1/8", "1/8"]),
    ("6/8", "0", "1/4", ["1/4"]),
    ("12/8", "3/4", "3/2", ["3/4"]),
]


def lengths(pieces):
    return [str(value.duration) for _, _, value in pieces]


@pytest.mark.parametrize(("meter", "start", "end", "expected"), NOTES)
def test_a_note_is_split_as_musicians_write_it(meter, start, end, expected):
    assert lengths(note_pieces(Meter.parse(meter), Fraction(start), Fraction(end))) == expected


@pytest.mark.parametrize(("meter", "start", "end", "expected"), RESTS)
def test_a_rest_shows_every_beat(meter, start, end, expected):
    assert lengths(rest_pieces(Meter.parse(meter), Fraction(start), Fraction(end))) == expected


@pytest.mark.parametrize(
    ("length", "value"),
    [
        ("1", (Fraction(1), 0)),
        ("3/2", (Fraction(1), 1)),
        ("3/4", (Fraction(1, 2), 1)),
        ("1/16", (Fraction(1, 16), 0)),
        ("5/8", None),
        ("7/8", None),
        ("1/12", None),
    ],
)
def test_values_are_plain_or_dotted_once(length, value):
    found = plain_value(Fraction(length))
    assert (found and (found.length, found.dots)) == value


# Beats as a conductor gives them, from any textbook of notation.
BEAT = dict.fromkeys(("3/8", "6/8", "9/8", "12/8"), Fraction(3, 8)) | {
    "6/4": Fraction(3, 4),
    "2/2": Fraction(1, 2),
    "3/2": Fraction(1, 2),
}


@st.composite
def spans(draw):
    meter = draw(st.sampled_from(METERS))
    top, bottom = (int(part) for part in meter.split("/"))
    steps = top * 32 // bottom
    start = draw(st.integers(0, steps - 1))
    end = draw(st.integers(start + 1, steps))
    return meter, Fraction(start, 32), Fraction(end, 32)


@given(spans())
def test_pieces_fill_the_span_and_keep_the_beats_in_sight(span):
    meter, start, end = span
    beat = BEAT.get(meter, Fraction(1, 4))
    for split in (note_pieces, rest_pieces):
        pieces = split(Meter.parse(meter), start, end)
        assert pieces[0][0] == start
        assert pieces[-1][1] == end
        for (begin, stop, value), after in zip(pieces, [*pieces[1:], None], strict=True):
            assert value.duration == stop - begin
            assert value.dots in {0, 1}
            assert value.duration.numerator in {1, 2, 3}
            assert after is None or after[0] == stop
            crosses = stop > (begin // beat + 1) * beat
            if crosses:  # only from a beat
                assert begin % beat == 0


@given(spans())
def test_no_tie_joins_two_short_notes(span):
    """What fits into one beat and has a value of its own is never cut up."""
    meter, start, end = span
    beat = BEAT.get(meter, Fraction(1, 4))
    if start // beat == (end - Fraction(1, 64)) // beat and (end - start).numerator in {1, 3}:
        assert len(note_pieces(Meter.parse(meter), start, end)) == 1
