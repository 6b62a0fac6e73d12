"""How fast, how long and how often: the limits, from both sides."""

from __future__ import annotations

from fractions import Fraction

import pytest

from accomp import time
from accomp.errors import InputError
from accomp.files.table import Table
from accomp.files.toml import parse_toml
from accomp.time import METER, METERS, TEMPO, Meter, Span


def test_the_limits_in_figures() -> None:
    """Ours: what lies outside cannot be played, or is a wrong file."""
    assert (time.SLOWEST_BPM, time.FASTEST_BPM) == (20, 400)
    assert (time.MOST_BARS, time.MOST_CHORUSES) == (2000, 100)
    assert (time.MOST_PLAYED, time.MOST_MINUTES) == (4000, 150)


@pytest.mark.parametrize(
    ("value", "good"), [("20", True), ("400", True), ("19.9", False), ("400.1", False)]
)
def test_a_tempo_in_a_file(value: str, good: bool) -> None:
    top = Table.of(parse_toml(f"tempo = {value}\n", "t.toml"))
    assert top.get("tempo", TEMPO, 1.0) == (float(value) if good else 1.0)
    if good:
        top.check()
        return
    with pytest.raises(InputError) as caught:
        top.check()
    assert caught.value.problems[0].message == (
        f"'tempo' must be a number of beats a minute from 20 to 400, and this is {value}."
    )


def test_what_is_wrong_in_whole_sentences() -> None:
    with pytest.raises(ValueError, match=r"^a span cannot end \(1/4\) before it starts \(1/2\)$"):
        Span(Fraction(1, 2), Fraction(1, 4))
    with pytest.raises(
        ValueError, match=f"^'7/8' is not a meter: expected one of {', '.join(METERS)}$"
    ):
        Meter.parse("7/8")
    top = Table.of(parse_toml('meter = "7/8"\n', "t.toml"))
    top.get("meter", METER, None)
    with pytest.raises(InputError) as caught:
        top.check()
    assert caught.value.problems[0].message == (
        f"'meter' must be a meter in quotes, one of {', '.join(METERS)}, and this is '7/8'."
    )


def test_spans_are_in_the_order_of_their_starts_and_then_of_their_ends() -> None:
    places = [Fraction(n, 4) for n in range(4)]
    spans = [Span(a, b) for a in places for b in places if a <= b]
    assert sorted([*spans[5:], *spans[:5]]) == spans
    assert all((0 in span) == (span.start <= 0 < span.end) for span in spans)
    touching = Span(places[0], places[1]), Span(places[1], places[2])
    assert touching[0].cut(touching[1]) is None
    assert Span(places[0], places[2]).cut(Span(places[1], places[3])) == touching[1]
