"""Drum patterns laid over time."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from accomp.rhythm import BandNote, BandPattern, drum_hits
from accomp.time import Span

PATTERN = BandPattern(
    Fraction(1, 2),
    (
        BandNote(Fraction(0), "bass-drum"),
        BandNote(Fraction(0), "ride", "light"),
        BandNote(Fraction(1, 4), "snare", "accent"),
    ),
)
moments = st.fractions(min_value=-3, max_value=3, max_denominator=8)


def test_hits_of_a_bar():
    hits = drum_hits(Span(Fraction(0), Fraction(1)), PATTERN)
    # General MIDI percussion: 36 bass drum 1, 51 ride cymbal 1, 38 acoustic snare.
    assert [(hit.span.start, hit.span.end, hit.key, hit.force) for hit in hits] == [
        (0, Fraction(1, 4), 36, "plain"),
        (0, Fraction(1, 4), 51, "light"),
        (Fraction(1, 4), Fraction(1, 2), 38, "accent"),
        (Fraction(1, 2), Fraction(3, 4), 36, "plain"),
        (Fraction(1, 2), Fraction(3, 4), 51, "light"),
        (Fraction(3, 4), 1, 38, "accent"),
    ]


@given(moments, moments, moments)
def test_parts_make_the_whole(a, b, c):
    a, b, c = sorted((a, b, c))
    whole = [(h.span.start, h.key) for h in drum_hits(Span(a, c), PATTERN)]
    parts = [(h.span.start, h.key) for s in (Span(a, b), Span(b, c)) for h in drum_hits(s, PATTERN)]
    assert whole == parts


def test_a_silent_pattern_ends():
    assert drum_hits(Span(Fraction(0), Fraction(4)), BandPattern(Fraction(1), ())) == ()
