"""Swing: the published line, and laws of the warp."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from accomp.rhythm import find_style, ratio_by_tempo, style_names, swung, swung_time

places = st.fractions(0, 1, max_denominator=48).filter(lambda place: place < 1)
ratios = st.floats(1.0, 4.0)


# Source: Friberg & Sundström, Music Perception 19(3), 2002, 333-349 (end points from the abstract):
# about 3.5:1 near 120 beats a minute, falling about linearly to 1:1 near 300.
@pytest.mark.parametrize(
    ("quarters_bpm", "ratio"), [(120, 3.5), (300, 1.0), (210, 2.25), (60, 3.5), (340, 1.0)]
)
def test_ratio_by_tempo(quarters_bpm, ratio):
    assert ratio_by_tempo(quarters_bpm) == pytest.approx(ratio)


def test_the_triplet_ratio_holds_at_one_tempo_only():
    tempos = [bpm for bpm in range(100, 320) if abs(ratio_by_tempo(bpm) - 2.0) < 0.005]
    assert len(tempos) == 1


def test_the_short_note_stays_near_a_tenth_of_a_second():
    # Same source: near 100 ms at medium and fast tempi. The straight line through the two end
    # points gives 89 to 116 ms from 140 to 260 quarters a minute.
    for bpm in range(140, 261, 10):
        short_ms = 60_000 / bpm / (ratio_by_tempo(bpm) + 1)
        assert 85 < short_ms < 118


@given(places)
def test_straight_is_exact(place):
    assert swung(place, 1.0) == float(place)
    assert swung_time(place, 1.0, Fraction(1, 4)) == float(place)


@given(ratios)
def test_the_middle_divides_the_pair_by_the_ratio(ratio):
    long = swung(Fraction(1, 2), ratio)
    assert long / (1 - long) == pytest.approx(ratio)


@given(places, places, ratios)
def test_order_is_kept_and_nothing_leaves_the_pair(a, b, ratio):
    first, second = sorted((a, b))
    assert 0 <= swung(first, ratio) <= swung(second, ratio) < 1
    assert (swung(first, ratio) == swung(second, ratio)) == (first == second)


@given(st.fractions(0, 8, max_denominator=48), ratios)
def test_the_start_of_every_pair_stays(moment, ratio):
    pair = Fraction(1, 4)
    start = moment // pair * pair
    assert swung_time(start, ratio, pair) == pytest.approx(float(start))
    assert 0 <= swung_time(moment, ratio, pair) - float(moment) < float(pair) / 2


@pytest.mark.parametrize("name", style_names())
def test_what_swings_by_tempo_counts_quarters(name):
    style = find_style(name)
    low, high = style.tempo
    if not style.swing_by_tempo:
        assert style.swing_at(low) == style.swing_at(high) == style.swing
        return
    quarters = float(style.meter.beat / style.swing_pair)
    assert style.swing_at(low) == ratio_by_tempo(low * quarters)
    assert style.swing_at(low) >= style.swing_at(high)


def test_strings_are_straighter_than_drums_at_slow_tempi_only():
    # Friberg & Sundström 2002, second part: soloists are straighter than the cymbal.
    style = find_style("flat-four")
    assert style.strings_swing_at(120) == 2.0 < style.swing_at(120)
    assert style.strings_swing_at(260) == style.swing_at(260) < 2.0
    fixed = find_style("shuffle")
    assert fixed.strings_swing_at(100) == fixed.swing_at(100) == fixed.swing
