"""Half-open spans, exactly."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from accomp.time import Span

MOMENTS = st.fractions(min_value=-4, max_value=16, max_denominator=48)
SPANS = st.tuples(MOMENTS, MOMENTS).map(lambda ends: Span(min(ends), max(ends)))


def test_the_edges() -> None:
    first = Span(Fraction(0), Fraction(1, 4))
    second = Span(Fraction(1, 4), Fraction(1, 2))
    assert Fraction(0) in first
    assert Fraction(1, 4) not in first
    assert Fraction(1, 4) in second
    assert first.cut(second) is None
    assert "1/4" not in first
    assert Fraction(1) not in Span(Fraction(1), Fraction(1))


def test_no_span_backwards() -> None:
    with pytest.raises(ValueError, match="cannot end"):
        Span(Fraction(1), Fraction(0))


@given(SPANS, SPANS, MOMENTS)
def test_cut_is_what_both_hold(one: Span, other: Span, moment: Fraction) -> None:
    both = one.cut(other)
    assert both == other.cut(one)
    assert (both is not None and moment in both) == (moment in one and moment in other)


@given(SPANS, MOMENTS, MOMENTS)
def test_shifting(span: Span, by: Fraction, moment: Fraction) -> None:
    moved = span.shifted(by)
    assert moved.duration == span.duration
    assert (moment in span) == (moment + by in moved)
    assert moved.shifted(-by) == span


@given(SPANS, MOMENTS)
def test_cut_in_two_adds_up(span: Span, at: Fraction) -> None:
    left = span.cut(Span(span.start, max(at, span.start)))
    right = span.cut(Span(max(at, span.start), max(at, span.end)))
    parts = [part.duration for part in (left, right) if part is not None]
    assert sum(parts) == span.duration
