"""What a new family costs: once a tune, exactly, and what follows from that."""

import random
from collections import Counter
from dataclasses import replace
from itertools import product

import pytest
from neck_players import MEDIUM, TEACHER, TENOR, chords
from test_neck_laws import EVERYDAY, planned, tune

from accomp.errors import NoShapeError
from accomp.neck import (
    Neck,
    Player,
    Repertoire,
    Wish,
    default_weights,
    find_instrument,
    find_repertoire,
    instrument_names,
)
from accomp.neck.cycle import cheapest_cycle
from accomp.neck.fixed import FixedProblem, cheapest_choice
from accomp.neck.free import cheapest_free
from accomp.neck.learn_next import GAINS
from accomp.neck.learning import LearningCosts


def random_problem(draw):
    """Own costs, costs of pairs, and families, some of them free and some shared."""
    symbols = draw.randint(1, 5)
    sizes = [draw.randint(1, 5) for _ in range(symbols)]
    names = [None, None, *"abcdefgh"[: draw.randint(1, 8)]]
    own = [[draw.uniform(0, 6) for _ in range(size)] for size in sizes]
    families = [[draw.choice(names) for _ in range(size)] for size in sizes]
    pairs = {
        (v, w): [[draw.uniform(0, 3) for _ in own[w]] for _ in own[v]]
        for v in range(symbols)
        for w in range(v + 1, symbols)
        if draw.random() < 0.6
    }
    return own, pairs, families, draw.choice([0.0, 0.5, 2.0, 5.0])


def with_learning(own, pairs, families, price):
    setup = LearningCosts.of(families, price)
    rows = [
        [a + b for a, b in zip(row, more, strict=True)]
        for row, more in zip(own, setup.own, strict=True)
    ]
    return FixedProblem(rows + setup.rows, pairs | setup.tables())


def exhausted(own, pairs, families, price):
    """The least sum over every choice, each family of the choice paid once."""
    return min(
        sum(own[v][a] for v, a in enumerate(choice))
        + sum(table[choice[v]][choice[w]] for (v, w), table in pairs.items())
        + price * len({families[v][a] for v, a in enumerate(choice)} - {None})
        for choice in product(*(range(len(row)) for row in own))
    )


@pytest.mark.slow
def test_the_cheapest_choice_with_learning_equals_trying_every_one():
    draw = random.Random(31)
    shared = 0
    for _ in range(300):
        own, pairs, families, price = random_problem(draw)
        choice = cheapest_choice(with_learning(own, pairs, families, price))
        assert choice.bound == choice.cost
        assert choice.cost == pytest.approx(exhausted(own, pairs, families, price))
        shared += len(LearningCosts.of(families, price).shared)
    assert shared > 200


def test_the_bound_counts_a_family_that_some_symbol_cannot_avoid():
    own, families = [[1.0], [1.0, 1.5]], [["a"], ["a", None]]
    problem = with_learning(own, {}, families, 5.0)
    assert problem.raise_bound() == pytest.approx(7.0)


def test_free_plans_with_learning_equal_trying_every_one():
    draw = random.Random(32)
    for _ in range(300):
        places = draw.randint(2, 5)
        rows = [[(place, a) for a in range(draw.randint(1, 4))] for place in range(places)]
        everyone = [one for row in rows for one in row]
        own = {one: draw.uniform(0, 4) for one in everyone}
        family = {one: draw.choice([None, None, *"abcd"]) for one in everyone}
        change = {(a, b): draw.uniform(0, 3) for a in everyone for b in everyone}
        price = draw.choice([0.0, 1.0, 3.0])

        def ways(extra, rows=rows, own=own, family=family, change=change):
            some = [[a for a in row if extra.get(family[a], 0.0) is not None] for row in rows]
            if not all(some):
                return None
            return cheapest_cycle(
                some,
                lambda _, a: own[a] + (extra.get(family[a]) or 0.0),
                lambda *pair: change[pair],
            )

        many = Counter(f for row in rows for f in {family[one] for one in row} - {None})
        found = cheapest_free(ways, family.__getitem__, many, price)
        least = min(
            sum(own[one] + change[one, path[(i + 1) % places]] for i, one in enumerate(path))
            + price * len({family[one] for one in path} - {None})
            for path in product(*rows)
        )
        assert found.cost == pytest.approx(least)
        assert found.bound == pytest.approx(least)
        assert all(one in row for one, row in zip(found.path, rows, strict=True))


def cost_of(plan, sequence, player):
    """A plan's cost added up from its shapes, its new families counted here."""
    costs = player.cost_model()
    total = 0.0
    for index, (chord, shape) in enumerate(zip(sequence, plan.path, strict=True)):
        total += costs.shape(shape, chord)
        there = plan.path[(index + 1) % len(sequence)]
        total += 0.0 if there is shape else costs.change(shape, there)
    return total + player.weights.learning * len(plan.new)


LONG = "Bb F7 Bb Bb7 Eb Edim7 Bb G7 C7 F7 Bb F7 Dm7 G7 Cm7 F7 Bb Bb7 Eb Ebm6 Bb G7 C7 F7"


def test_the_price_is_paid_once_and_is_a_term_of_its_own():
    sequence = chords(LONG)
    learnt = 0
    for plan in planned(sequence, sequence[0]):
        assert plan.cost == pytest.approx(cost_of(plan, sequence, TEACHER))
        assert plan.terms.get("learning", 0.0) == pytest.approx(
            TEACHER.weights.learning * len(plan.new)
        )
        used = [shape.grip for shape in plan.path]
        assert all(used.count(grip) >= 1 for grip in plan.new)
        learnt += any(used.count(grip) > 3 for grip in plan.new)
    assert learnt  # an inversion that pays for itself


def test_a_short_tune_of_a_beginner_stays_with_the_first_shapes():
    sequence = chords("C F G7 C")
    assert TEACHER.weights.learning > 0
    assert all(plan.new == () for plan in planned(sequence, sequence[0]) if "high" not in plan.name)


@pytest.mark.slow
def test_a_larger_price_never_adds_a_family():
    draw = random.Random(33)
    for _ in range(12):
        sequence = tune(draw, 6, 14, EVERYDAY)
        before = {}
        for price in (0.0, 3.0, 8.0, 25.0, 60.0, 200.0):
            player = replace(TEACHER, weights=TEACHER.weights.changed({"learning": price}))
            for plan in planned(sequence, sequence[0], player):
                count = len(plan.new)
                assert count <= before.get(plan.name, count), (price, plan.name)
                before[plan.name] = count


@pytest.mark.slow
def test_for_nothing_the_plan_is_that_of_all_families_known():
    draw = random.Random(34)
    nothing = replace(TEACHER, weights=TEACHER.weights.changed({"learning": 0.0}))
    for _ in range(8):
        sequence = tune(draw, 5, 10, EVERYDAY)
        for plan in planned(sequence, sequence[0], nothing):
            # The same as before: every family free by itself, whatever the price.
            known = everything_known(sequence, plan.name)
            assert [s.frets for s in plan.path] == [s.frets for s in known.path]
            assert plan.cost == pytest.approx(known.cost)


def everything_known(sequence, name):
    from accomp.neck.planner import Planner

    planner = Planner(TEACHER, sequence, sequence[0], Wish())
    pools = planner.pools
    pools.free = frozenset(
        one.shape.grip
        for slot in planner.cycle.symbols
        for one in (*pools.of_all(slot.chord), *pools._of_fewest(slot.chord))
    )
    pools._vocabulary.clear()
    pools._all.clear()
    pools._fewest.clear()
    pools._pools.clear()
    return next(plan for plan in planner.positions() if plan.name == name)


@pytest.mark.slow
def test_one_more_family_never_makes_the_best_plan_dearer():
    draw = random.Random(35)
    whole = find_repertoire(TENOR)
    compared = 0
    for _ in range(15):
        sequence = tune(draw, 4, 9, EVERYDAY)
        for count in range(1, len(whole.shapes)):
            fewer = Repertoire(whole.title, whole.strings, whole.shapes[:count])
            more = Repertoire(whole.title, whole.strings, whole.shapes[: count + 1])
            plans = {
                key(plan): plan
                for plan in planned(sequence, sequence[0], Player(TENOR, MEDIUM, more))
            }
            for plan in planned(sequence, sequence[0], Player(TENOR, MEDIUM, fewer)):
                if in_position(plan) and key(plan) in plans:
                    assert plans[key(plan)].cost <= plan.cost + 1e-6
                    compared += 1
    assert compared > 40


@pytest.mark.slow
def test_a_larger_vocabulary_never_makes_a_comfortable_plan_dearer():
    draw = random.Random(36)
    for _ in range(10):
        sequence = tune(draw, 4, 9, EVERYDAY)
        costs = {}
        for vocabulary in ("first", "inversions", "all"):
            for plan in planned(sequence, sequence[0], vocabulary=vocabulary):
                if in_position(plan):
                    assert plan.cost <= costs.get(key(plan), plan.cost) + 1e-6, vocabulary
                    costs[key(plan)] = plan.cost


@pytest.mark.slow
@pytest.mark.parametrize(
    ("tunes", "seed"), [(60, 37), pytest.param(300, 38, marks=pytest.mark.long)]
)
def test_no_wide_shape_where_a_comfortable_plan_of_the_position_exists(tunes, seed):
    """For each position with a wide shape: with a hand that reaches no further than its comfort
    there is no such position, so no comfortable plan of it."""
    from test_neck_laws import VOCABULARY

    draw = random.Random(seed)
    names = instrument_names()
    wide = 0
    for number in range(tunes):
        one = find_instrument(names[number % len(names)])
        sequence = tune(draw, draw.randint(1, 5), draw.randint(4, 9), VOCABULARY)
        one_shape = draw.choice([True, False])
        player = Player.on(one, MEDIUM)
        try:
            plans = planned(sequence, sequence[-1], player, one_shape=one_shape)
        except NoShapeError:
            continue
        for plan in plans:
            for shape, is_wide in zip(plan.path, plan.wide, strict=True):
                assert is_wide == (shape.stretch_mm > MEDIUM.comfort_mm)
        if not any(any(plan.wide) for plan in plans):
            continue
        tight = replace(player, hand=MEDIUM.with_reach(MEDIUM.comfort_mm))
        neck = Neck(tight, tuple(sequence), sequence[-1])
        try:
            found = {key(plan, -1) for plan in neck.positions(Wish(one_shape=one_shape))}
        except NoShapeError:
            found = set()
        for plan in plans:
            if any(plan.wide):
                wide += 1
                assert any("mm wide, beyond the 80 mm" in notice for notice in plan.notices)
                assert key(plan, -1) not in found, (one.name, sequence, plan.name)
    assert wide


def in_position(plan):
    """Whether all shapes are of the vocabulary, with a fret for each finger.

    Comfort comes before cost: one more family may bring such a shape where there was none, and the
    plan becomes more comfortable, not cheaper.
    """
    return (
        not plan.notices
        and all(max(s.fretted, default=0) - min(s.fretted, default=0) <= 3 for s in plan.path)
        and not any(one and one.new and one.derivation.moves for one in plan.known)
    )


def key(plan, home=0):
    """The position by its home chord's top note, which does not depend on which others exist."""
    home = plan.path[home]
    return home.top, home.top_pitch


def test_weights_in_force_are_those_of_the_data_file():
    assert default_weights().learning == 30.0


def test_whatever_costs_something_has_words_for_what_it_is_to_save_it():
    assert sorted(term for terms in GAINS.values() for term in terms) == sorted(
        default_weights().by_name()
    )


BAND = "Bb F7 Bb Bb7 Eb Ebm6 Bb G7 C7 F7 Bb F7 Bb D7 G7 C7 F7"


@pytest.mark.slow
@pytest.mark.parametrize("vocabulary", ["first", "inversions"])
def test_what_one_more_family_would_buy_is_exactly_what_it_buys(vocabulary):
    """Each promised plan made again, its cost and its travels counted here."""
    sequence = tuple(chords(BAND))
    neck = Neck(TEACHER, sequence, sequence[0])
    wish = Wish(vocabulary=vocabulary)
    told, gains = 0, set()
    for plan in neck.positions(wish):
        found = neck.learn_next(plan, wish)
        assert len(found) <= 3
        assert [one.cost for one in found] == sorted((one.cost for one in found), reverse=True)
        for one in found:
            assert one.grip not in plan.new
            assert one.cost > 0
            # The plan that is promised, with the shapes named, costs so much less.
            shapes = dict(one.shapes)
            assert all(shape.grip == one.grip for shape in shapes.values())
            # Changes of one chorus, where the hand changes; round to the first is none of them.
            played = range(1, len(sequence))
            assert one.of == sum(plan.path[i].frets != plan.path[i - 1].frets for i in played)
            again = plan_with(sequence, one.grip, plan, wish)
            assert again.cost == pytest.approx(plan.cost - one.cost)
            saved = Counter(plan.terms)
            saved.subtract(again.terms)
            assert one.gain == max(GAINS, key=lambda gain: sum(saved[term] for term in GAINS[gain]))
            for chord, shape in zip(sequence, again.path, strict=True):
                if chord in shapes:
                    assert shape.frets == shapes[chord].frets
            before, after = ([travel(p, i, TENOR.fret_mm) for i in played]
                             for p in (plan, again))  # fmt: skip
            assert one.shift_mm == pytest.approx(sum(before) - sum(after))
            before, after = ([travel(p, i) for i in played] for p in (plan, again))
            assert one.frets == sum(before) - sum(after)
            assert one.changes == sum(a < b for a, b in zip(after, before, strict=True))
            assert all(" ".join(map(str, shape.frets)) in one.words for shape in shapes.values())
            told += 1
            gains.add(one.gain)
    assert told >= 3
    assert len(gains) > 1  # not everything that helps spares the fingers


def travel(plan, index, at=int):
    """How far the hand goes to a chord, in frets or as `at` measures them."""
    here, there = plan.path[index - 1].fretted, plan.path[index].fretted
    return abs(at(min(there)) - at(min(here))) if here and there else 0


def plan_with(sequence, grip, plan, wish):
    """The position among all those of a planner that knows one grip besides."""
    from accomp.neck.planner import Planner
    from accomp.neck.pools import Pools

    planner = Planner(TEACHER, sequence, sequence[0], wish)
    planner.pools = Pools(
        TEACHER,
        planner.pools.costs,
        sequence,
        vocabulary=wish.vocabulary,
        also=frozenset({grip}),
    )
    return next(one for one in planner.positions() if key(one) == key(plan))


@pytest.mark.slow
@pytest.mark.parametrize("vocabulary", ["first", "inversions"])
def test_no_other_family_would_buy_more(vocabulary):
    """Every grip of every inversion tried, wherever on the neck it lies."""
    from accomp.neck.inversions import inversions
    from accomp.neck.planner import Planner

    sequence = tuple(chords(BAND))
    neck, wish = Neck(TEACHER, sequence, sequence[0]), Wish(vocabulary=vocabulary)
    planner = Planner(TEACHER, sequence, sequence[0], wish)
    grips = {
        shape.grip
        for chord in set(sequence)
        for shape in inversions(chord, TENOR, MEDIUM)
        if shape.grip not in planner.pools.free
    }
    for plan in neck.positions(wish):
        less = {}
        for grip in grips - {*plan.new}:
            again = planner.again(plan, frozenset({grip}))
            if again is not None and again.cost < plan.cost - 1e-6:
                less[grip] = plan.cost - again.cost
        best = sorted(less.values(), reverse=True)[:3]
        found = neck.learn_next(plan, wish)
        assert [one.cost for one in found] == pytest.approx(best)
        assert all(less[one.grip] == pytest.approx(one.cost) for one in found)


def test_no_family_is_told_of_that_would_buy_nothing():
    sequence = tuple(chords("C F G C"))
    neck = Neck(TEACHER, sequence, sequence[0])
    assert all(neck.learn_next(plan) == () for plan in neck.positions())


def test_leaving_out_what_cannot_pay_keeps_the_cheapest_choice():
    import numpy as np

    from accomp.neck.learning import worth_learning

    draw = random.Random(39)
    left_out = kept = 0
    for _ in range(300):
        own, pairs, families, price = random_problem(draw)
        some = worth_learning(
            [np.array(row) for row in own],
            {pair: np.array(table) for pair, table in pairs.items()},
            families,
            price,
        )
        left_out += sum(map(len, own)) - sum(map(len, some))
        kept += sum(families[v][a] is not None for v, row in enumerate(some) for a in row)
        fewer = (
            [[own[v][a] for a in row] for v, row in enumerate(some)],
            {
                (v, w): [[table[a][b] for b in some[w]] for a in some[v]]
                for (v, w), table in pairs.items()
            },
            [[families[v][a] for a in row] for v, row in enumerate(some)],
            price,
        )
        assert exhausted(*fewer) == pytest.approx(exhausted(own, pairs, families, price))
    assert left_out > 100
    assert kept > 100
