"""Seeded looseness: the same for the same place, and even in the mean."""

from hypothesis import given
from hypothesis import strategies as st

from accomp.rhythm.loose import loose, weight

words = st.one_of(st.integers(), st.text(max_size=5))


@given(st.integers(), words, words)
def test_same_seed_and_place_same_number(seed, a, b):
    assert loose(seed, a, b) == loose(seed, a, b)
    assert -1 <= loose(seed, a, b) <= 1
    assert 0 <= weight(7, seed, a, b) < 7


def test_places_do_not_run_together():
    assert loose(1, "1", "23") != loose(1, "12", "3")
    assert loose(1, "bar", 1) != loose(2, "bar", 1)


def test_the_mean_is_nought_and_small_differences_are_commonest():
    numbers = [loose(5, "bar", bar) for bar in range(4000)]
    assert abs(sum(numbers) / len(numbers)) < 0.02
    # The mean of three even numbers from -1 to 1 has a standard deviation of 1/3 and lies within
    # 1/3 of nought in 2/3 of all cases (Irwin-Hall distribution of order 3: 0.6667).
    assert abs(sum(n * n for n in numbers) / len(numbers) - 1 / 9) < 0.01
    assert abs(sum(abs(n) < 1 / 3 for n in numbers) / len(numbers) - 2 / 3) < 0.03
