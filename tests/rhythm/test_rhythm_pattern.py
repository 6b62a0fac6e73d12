"""Laws of patterns: what is asked in parts is what is asked whole."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from accomp.rhythm import Pattern, Stroke
from accomp.time import Span

moments = st.fractions(min_value=-6, max_value=6, max_denominator=12)


@st.composite
def patterns(draw):
    length = draw(st.fractions(min_value=Fraction(1, 12), max_value=3, max_denominator=12))
    shares = draw(st.lists(st.fractions(0, 1, max_denominator=8), max_size=6, unique=True))
    edges = [*sorted(share * length for share in shares if share < 1), length]
    return Pattern(length, tuple(Stroke(Span(a, b)) for a, b in pairwise(edges)))


@given(patterns(), moments, moments, moments)
def test_two_neighbouring_spans_give_the_strokes_of_the_whole(pattern, a, b, c):
    a, b, c = sorted((a, b, c))
    whole = [stroke.start for stroke in pattern.during(Span(a, c))]
    parts = [stroke.start for span in (Span(a, b), Span(b, c)) for stroke in pattern.during(span)]
    assert whole == parts


@given(patterns(), moments, moments)
def test_strokes_lie_inside_the_span_and_in_order(pattern, a, b):
    span = Span(*sorted((a, b)))
    found = list(pattern.during(span))
    assert all(span.start <= s.span.start < s.span.end <= span.end for s in found)
    assert all(x.span.end <= y.span.start for x, y in pairwise(found))


@pytest.mark.slow
@given(patterns(), moments, moments, st.integers(-3, 3))
def test_a_turn_later_everything_comes_again(pattern, a, b, turns):
    span = Span(*sorted((a, b)))
    by = turns * pattern.length
    later = [stroke.span.shifted(-by) for stroke in pattern.during(span.shifted(by))]
    assert later == [stroke.span for stroke in pattern.during(span)]


@given(patterns(), moments, moments, moments)
def test_shifting_a_pattern_shifts_its_answers(pattern, a, b, by):
    span = Span(*sorted((a, b)))
    moved = [s.start for s in pattern.shifted(by).during(span.shifted(by))]
    assert moved == [s.start + by for s in pattern.during(span)]


@given(patterns(), patterns(), moments, moments)
def test_layers_sound_together(upper, lower, a, b):
    span = Span(*sorted((a, b)))
    both = {s.start for s in lower.layered(upper).during(span)}
    alone = {s.start for pattern in (upper, lower) for s in pattern.during(span)}
    assert both == alone


def test_a_pattern_has_a_length():
    with pytest.raises(ValueError, match="above zero"):
        Pattern(Fraction(0), ())
