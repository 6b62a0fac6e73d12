import math
import random

import pytest
from drawn import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from neck_ways import cheapest_cycle as every_cycle
from neck_ways import cheapest_fixed as every_choice

from accomp.neck.cycle import cheapest_cycle
from accomp.neck.fixed import FixedProblem, cheapest_choice

COSTS = st.floats(0, 10, allow_nan=False, width=32)


@st.composite
def cycles(draw):
    """Up to 5 places of up to 4 candidates, a cost for each and for each pair."""
    sizes = draw(st.lists(st.integers(1, 4), min_size=1, max_size=5))
    names = iter(range(100))
    candidates = [[next(names) for _ in range(size)] for size in sizes]
    everyone = [one for row in candidates for one in row]
    own = {one: draw(COSTS) for one in everyone}
    change = {
        (here, there): draw(COSTS)
        for place, row in enumerate(candidates)
        for here in row
        for there in candidates[(place + 1) % len(candidates)]
    }
    return candidates, own, change


@settings(max_examples=examples(500))
@given(cycles())
def test_the_cheapest_way_round_equals_trying_every_one(case):
    candidates, own, change = case
    path, cost = cheapest_cycle(
        candidates, lambda place, one: own[one], lambda here, there: change[here, there]
    )
    expected = every_cycle(candidates, lambda i, one: own[one], lambda a, b: change[a, b])
    assert cost == pytest.approx(expected)
    again = sum(own[one] for one in path) + sum(
        change[path[i], path[(i + 1) % len(path)]] for i in range(len(path))
    )
    assert again == pytest.approx(cost)
    assert all(one in row for one, row in zip(path, candidates, strict=True))


@settings(max_examples=examples(100))
@given(cycles(), COSTS)
def test_one_more_candidate_never_makes_the_cheapest_way_dearer(case, dear):
    candidates, own, change = case

    def own_cost(place, one):
        return own.get(one, dear)

    def change_cost(here, there):
        return change.get((here, there), dear)

    _, before = cheapest_cycle(candidates, own_cost, change_cost)
    _, after = cheapest_cycle([[*candidates[0], 999], *candidates[1:]], own_cost, change_cost)
    assert after <= before + 1e-9


@st.composite
def fixed_cases(draw):
    """A sequence of up to 6 symbols with up to 5 candidates each, as in a tune."""
    sizes = draw(st.lists(st.integers(1, 5), min_size=1, max_size=6))
    symbols = range(len(sizes))
    sequence = [*symbols, *draw(st.lists(st.sampled_from(symbols), max_size=8))]
    candidates = {symbol: [(symbol, a) for a in range(size)] for symbol, size in enumerate(sizes)}
    return sequence, candidates, draw(st.integers(0, 2**32))


def problem_of(sequence, candidates, own, change):
    """The numbers of `FixedProblem` from a sequence, added up independently of the package."""
    symbols = sorted(candidates)
    rows = [[sequence.count(v) * own[one] for one in candidates[v]] for v in symbols]
    pairs = {}
    for here, there in zip(sequence, sequence[1:] + sequence[:1], strict=True):
        if here == there:
            continue
        v, w = min(here, there), max(here, there)
        table = pairs.setdefault((v, w), [[0.0] * len(candidates[w]) for _ in candidates[v]])
        for a, first in enumerate(candidates[v]):
            for b, second in enumerate(candidates[w]):
                pair = (first, second) if here == v else (second, first)
                table[a][b] += change[pair]
    return FixedProblem(rows, pairs)


def random_costs(candidates, draw):
    everyone = [one for row in candidates.values() for one in row]
    own = {one: draw.uniform(0, 5) for one in everyone}
    change = {(a, b): 0.0 if a == b else draw.uniform(0, 5) for a in everyone for b in everyone}
    return own, change


@pytest.mark.slow
@settings(max_examples=examples(1000))
@given(fixed_cases())
def test_the_cheapest_fixed_choice_equals_trying_every_one(case):
    sequence, candidates, seed = case
    own, change = random_costs(candidates, random.Random(seed))
    choice = cheapest_choice(problem_of(sequence, candidates, own, change))
    # A symbol that follows itself keeps its shape: nothing to change.
    expected = every_choice(
        sequence,
        candidates,
        lambda symbol, one: own[one],
        lambda a, b: 0.0 if a[0] == b[0] else change[a, b],
    )
    assert choice.bound == choice.cost
    assert choice.cost == pytest.approx(expected)


@settings(max_examples=examples(100))
@given(fixed_cases())
def test_the_bound_is_never_above_the_cheapest(case):
    sequence, candidates, seed = case
    own, change = random_costs(candidates, random.Random(seed))
    problem = problem_of(sequence, candidates, own, change)
    first = problem.bound
    raised = problem.raise_bound()
    assert first <= raised + 1e-9
    best = cheapest_choice(problem).cost
    assert raised <= best + 1e-9


@pytest.mark.slow
def test_a_search_that_gives_up_says_how_far_from_the_proof_it_is():
    draw = random.Random(5)
    candidates = {v: [(v, a) for a in range(8)] for v in range(14)}
    sequence = [draw.randrange(14) for _ in range(80)] + list(range(14))
    own, change = random_costs(candidates, draw)
    full = cheapest_choice(problem_of(sequence, candidates, own, change), most_nodes=10**7)
    assert full.bound == full.cost
    short = cheapest_choice(problem_of(sequence, candidates, own, change), most_nodes=40)
    assert short.bound < short.cost
    assert short.bound <= full.cost + 1e-9
    assert short.cost >= full.cost - 1e-9
    assert math.isfinite(short.cost)


def test_nothing_below_a_cost_that_is_cheaper_already():
    problem = FixedProblem([[1.0, 2.0], [3.0]], {(0, 1): [[1.0], [0.0]]})
    assert cheapest_choice(problem, below=5.0) is None
    problem = FixedProblem([[1.0, 2.0], [3.0]], {(0, 1): [[1.0], [0.0]]})
    assert cheapest_choice(problem, below=5.1).cost == pytest.approx(5.0)


@settings(max_examples=examples(100))
@given(fixed_cases())
def test_one_more_candidate_never_makes_the_cheapest_fixed_choice_dearer(case):
    sequence, candidates, seed = case
    more = {symbol: list(row) for symbol, row in candidates.items()}
    more[0].append((0, 99))
    own, change = random_costs(more, random.Random(seed))
    before = cheapest_choice(problem_of(sequence, candidates, own, change)).cost
    assert cheapest_choice(problem_of(sequence, more, own, change)).cost <= before + 1e-9
