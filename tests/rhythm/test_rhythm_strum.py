"""Which strings a stroke meets, how hard, and how quickly one after another."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from accomp.rhythm import FORCES, choose_strings, louder, spread_ms, tapered, velocity
from accomp.rhythm.strum import CHOICES, is_choice

FOUR = (0, 1, 2, 3)
SIX = (1, 2, 3, 4)  # a guitar shape that leaves the outer strings out


# Common practice, no source: a down-stroke goes from the highest-numbered string to the first.
@pytest.mark.parametrize(
    ("choice", "sounding", "down"),
    [
        ("all", FOUR, (0, 1, 2, 3)),
        ("low2", FOUR, (0, 1)),
        ("low1", FOUR, (0,)),
        ("low9", FOUR, (0, 1, 2, 3)),
        ("high3", FOUR, (1, 2, 3)),
        ("inner", FOUR, (1, 2)),
        ("outer", FOUR, (0, 3)),
        ("string1", FOUR, (3,)),
        ("string4", FOUR, (0,)),
        ("low2", SIX, (1, 2)),
        ("high1", SIX, (4,)),
        ("inner", SIX, (2, 3)),
        ("inner", (2, 3), (2, 3)),
        ("outer", (2,), (2,)),
        ("all", (), ()),
    ],
)
def test_strings_in_the_order_met(choice, sounding, down):
    assert choose_strings(choice, sounding, "down", strings=4) == down
    assert choose_strings(choice, sounding, "up", strings=4) == down[::-1]


def test_a_single_string_counts_from_the_floor():
    # Guitar of six strings, shape without the outer ones: the second string is index 4.
    assert choose_strings("string2", SIX, "down", strings=6) == (4,)
    assert choose_strings("string1", SIX, "down", strings=6) == (4,)
    assert choose_strings("string6", SIX, "down", strings=6) == (1,)


@given(
    st.sampled_from(CHOICES),
    st.lists(st.integers(0, 5), unique=True, max_size=6).map(lambda found: tuple(sorted(found))),
    st.sampled_from(["down", "up"]),
)
def test_only_sounding_strings_are_struck_and_some_always(choice, sounding, direction):
    chosen = choose_strings(choice, sounding, direction, strings=6)
    assert set(chosen) <= set(sounding)
    assert bool(chosen) == bool(sounding)
    assert list(chosen) == sorted(chosen, reverse=direction == "up")


@pytest.mark.parametrize("word", ["", "low", "low0", "lower2", "string", "ALL", "low22"])
def test_other_words_are_no_choice(word):
    assert not is_choice(word)
    with pytest.raises(ValueError, match="not a choice of strings"):
        choose_strings(word, FOUR, "down", strings=4)


def test_forces_rise_and_stay_in_midi():
    loud = [velocity(force) for force in FORCES]
    assert loud == sorted(set(loud))
    assert all(1 <= tapered(force, place, 8.0) <= 127 for force in FORCES for place in range(6))
    assert all(x >= y for x, y in pairwise(tapered("light", place) for place in range(6)))
    assert tapered("light", 3, 0.0) == velocity("light")


@pytest.mark.parametrize("hard", ["heavy", "accent"])
def test_a_hard_stroke_is_four_to_eight_decibels_over_a_light_one(hard):
    # Source: SoundFont 2.01 section 8.4.1, note-on velocity to attenuation: concave, which is
    # 40·log10(127 / velocity) dB.
    assert 4 <= 40 * math.log10(velocity(hard) / velocity("light")) <= 8


def test_louder_and_softer_stay_on_the_scale():
    assert louder("light", 1) == "plain"
    assert louder("accent", 2) == "accent"
    assert louder("ghost", -1) == "ghost"


def test_the_spread_stops_growing_and_shrinking_at_the_ends():
    """22 ms at 120 for a plain stroke over four strings, 0.6 to 1.6 times that at most."""
    found = [spread_ms("plain", tempo, 4) for tempo in (10, 40, 120, 334, 1000)]
    assert found == pytest.approx([35.2, 35.2, 22.0, 13.2, 13.2])


@given(st.sampled_from(FORCES), st.floats(20, 400), st.floats(20, 400), st.integers(1, 6))
def test_the_spread_shrinks_with_tempo_and_force(force, a, b, strings):
    slow, fast = sorted((a, b))
    assert spread_ms(force, slow, strings) >= spread_ms(force, fast, strings)
    assert spread_ms(force, slow, strings) >= spread_ms(louder(force, 1), slow, strings)
    assert spread_ms(force, slow, 1) == 0
    assert spread_ms(force, slow, strings, 2.0) == pytest.approx(
        2 * spread_ms(force, slow, strings)
    )
