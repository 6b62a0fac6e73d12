"""Arrays against the plain sums, and narrowed problems against whole ones."""

import random

import numpy as np
import pytest
from neck_ways import cheapest_cycle as every_cycle

from accomp.harmony import parse_chord
from accomp.neck import (
    CostModel,
    Neck,
    Player,
    Wish,
    chord_cycle,
    default_weights,
    find_hand,
    find_instrument,
    playable_shapes,
    shape_at,
)
from accomp.neck.chord_cycle import ChordCycle
from accomp.neck.cost import ShapeRow
from accomp.neck.cycle import cheapest_cycle_wide
from accomp.neck.fixed import FixedProblem, cheapest_choice, narrow
from accomp.neck.planner import Planner
from accomp.neck.pools import Area

MEDIUM = find_hand("medium")


@pytest.mark.many(1, 99)
@pytest.mark.parametrize("name", ["guitar", "tenor-banjo", "ukulele"])
def test_the_table_holds_the_cost_of_every_change(name):
    one = find_instrument(name)
    draw = random.Random(3)
    weights = {term: draw.uniform(0.1, 2) for term in default_weights().by_name()}
    costs = CostModel(one, MEDIUM, default_weights().changed(weights))
    here = list(playable_shapes(parse_chord("C7"), one, MEDIUM))
    there = list(playable_shapes(parse_chord("F6"), one, MEDIUM))
    here = draw.sample(here, min(60, len(here)))
    there = draw.sample(there, min(60, len(there)))
    table = costs.change_table(ShapeRow(here, one), ShapeRow(there, one))
    for a, first in enumerate(here):
        for b, second in enumerate(there):
            assert table[a, b] == pytest.approx(costs.change(first, second)), (first, second)


def test_the_table_knows_hands_that_fret_nothing():
    """A hand that frets nothing is wherever it is wanted; the fingers move all the same."""
    ukulele = find_instrument("ukulele")
    costs = CostModel(ukulele, MEDIUM, default_weights())
    free = shape_at((0, 0, 0, 0), parse_chord("C6"), ukulele, MEDIUM)
    shapes = [free, *playable_shapes(parse_chord("F"), ukulele, MEDIUM)]
    row = ShapeRow(shapes, ukulele)
    table = costs.change_table(row, row)
    for number, shape in enumerate(shapes):
        assert table[0, number] == pytest.approx(costs.change(free, shape))
        assert table[number, 0] == pytest.approx(costs.change(shape, free))
        assert "shift" not in costs.change_terms(free, shape)


def random_problem(draw, symbols, most):
    sizes = [draw.randint(1, most) for _ in range(symbols)]
    own = [[draw.uniform(0, 6) for _ in range(size)] for size in sizes]
    pairs = {}
    for v in range(symbols):
        for w in range(v + 1, symbols):
            if draw.random() < 0.5:
                pairs[v, w] = [[draw.uniform(0, 3) for _ in own[w]] for _ in own[v]]
    return own, pairs


@pytest.mark.slow
def test_narrowing_keeps_the_cheapest_choice():
    draw = random.Random(4)
    struck = 0
    for _ in range(150):
        own, pairs = random_problem(draw, draw.randint(1, 7), 9)
        whole = cheapest_choice(FixedProblem(own, pairs))
        kept = narrow([np.array(row) for row in own], {k: np.array(t) for k, t in pairs.items()})
        struck += sum(map(len, own)) - sum(map(len, kept))
        less = [[row[a] for a in some] for row, some in zip(own, kept, strict=True)]
        fewer = {
            (v, w): [[table[a][b] for b in kept[w]] for a in kept[v]]
            for (v, w), table in pairs.items()
        }
        assert cheapest_choice(FixedProblem(less, fewer)).cost == pytest.approx(whole.cost)
    assert struck > 500


def test_narrowing_says_when_nothing_is_cheaper():
    own, table = [np.array([1.0, 2.0]), np.array([3.0])], {(0, 1): np.array([[1.0], [0.0]])}
    assert narrow(own, table, below=5.0) is None
    assert narrow(own, table, below=5.1) is not None


def test_the_cheapest_way_round_by_arrays_equals_trying_every_one():
    draw = random.Random(6)
    for _ in range(200):
        sizes = [draw.randint(1, 4) for _ in range(draw.randint(1, 5))]
        owns = [np.array([draw.uniform(0, 5) for _ in range(size)]) for size in sizes]
        tables = [
            np.array([[draw.uniform(0, 5) for _ in range(there)] for _ in range(here)])
            for here, there in zip(sizes, sizes[1:] + sizes[:1], strict=True)
        ]
        way, cost = cheapest_cycle_wide(owns, tables)
        expected = every_cycle(
            [[(place, a) for a in range(size)] for place, size in enumerate(sizes)],
            lambda place, one, owns=owns: owns[place][one[1]],
            lambda a, b, tables=tables: tables[a[0]][a[1], b[1]],
        )
        assert cost == pytest.approx(expected)
        again = sum(
            owns[i][way[i]] + tables[i][way[i], way[(i + 1) % len(way)]] for i in range(len(way))
        )
        assert again == pytest.approx(cost)


TWELVE_BARS = "G7 C7 G7 Dm7 G7 C7 Cm7 F7 G7 Am7 Bm7 E7 Am7 D7 G7 E7 Am7 D7"


def plans_of(text, vocabulary="all"):
    chords = tuple(map(parse_chord, text.split()))
    player = Player.on(find_instrument("guitar"), MEDIUM)
    return Neck(player, chords, chords[0]).positions(Wish(vocabulary=vocabulary))


def test_changes_one_way_only_are_the_same_by_arrays(monkeypatch):
    """In a round of four chords each change comes in one direction, the last one backward."""
    chords = tuple(map(parse_chord, "C Am7 Dm7 G7".split()))
    planner = Planner(Player.on(find_instrument("tenor-banjo"), MEDIUM), chords, chords[0], Wish())
    area = Area(1, 4, False)
    rows = [planner.pools.pool(slot, area).candidates for slot in planner.cycle.symbols]
    sums = planner.cycle.fixed(rows)
    planner.cycle.forget()
    monkeypatch.setattr(chord_cycle, "BULK", 0)
    arrays = planner.cycle.fixed(rows)
    assert arrays.path == sums.path
    assert arrays.cost == pytest.approx(sums.cost)


@pytest.mark.slow
def test_bounds_of_a_whole_area_leave_the_best_plans_as_they_are(monkeypatch):
    """One bound for all places of the home chord in an area, against each place by itself."""
    text = "G7 Bdim7 C C#dim7"
    found = plans_of(text)
    monkeypatch.setattr(Planner, "_bounds", lambda self, tasks: None)
    assert found == plans_of(text)


@pytest.mark.long
def test_on_six_strings_most_ways_are_ruled_out_by_the_area(monkeypatch):
    """Counted and not timed: without the bounds 204 problems of hundreds of shapes are solved."""
    asked = 0
    fixed = ChordCycle.fixed

    def counted(self, candidates, below=float("inf")):
        nonlocal asked
        asked += 1
        return fixed(self, candidates, below)

    monkeypatch.setattr(ChordCycle, "fixed", counted)
    assert len(plans_of(TWELVE_BARS)) == 10
    assert asked < 50
