"""Seeded jitter: the same for the same place, and even in the mean."""

from hypothesis import given
from hypothesis import strategies as st

from accomp.rhythm.feel import jitter, weight

words = st.one_of(st.integers(), st.text(max_size=5))


@given(st.integers(), words, words)
def test_same_seed_and_place_same_number(seed, a, b):
    assert jitter(seed, a, b) == jitter(seed, a, b)
    assert -1 <= jitter(seed, a, b) <= 1
    assert 0 <= weight(7, seed, a, b) < 7


def test_places_do_not_run_together():
    assert jitter(1, "1", "23") != jitter(1, "12", "3")
    assert jitter(1, "bar", 1) != jitter(2, "bar", 1)


def test_the_mean_is_nought_and_small_differences_are_commonest():
    numbers = [jitter(5, "bar", bar) for bar in range(4000)]
    assert abs(sum(numbers) / len(numbers)) < 0.02
    # The mean of three even numbers from -1 to 1 has a standard deviation of 1/3 and lies within
    # 1/3 of nought in 2/3 of all cases (Irwin-Hall distribution of order 3: 0.6667).
    assert abs(sum(n * n for n in numbers) / len(numbers) - 1 / 9) < 0.01
    assert abs(sum(abs(n) < 1 / 3 for n in numbers) / len(numbers) - 2 / 3) < 0.03
