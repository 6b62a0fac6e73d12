"""JSON of shapes, positions and keys against the values that it is of, key by key: lengths to a
tenth of a millimetre, costs to a thousandth."""

from __future__ import annotations

import pytest
from neck_players import MEDIUM, TEACHER, TENOR, chords

from accomp.harmony import Key, parse_chord
from accomp.neck import Neck, Wish, lesson, shape_at
from accomp.neck.describe import keys_dict, positions_dict, shape_dict
from accomp.neck.inversions import inversions

COSTS = TEACHER.cost_model()
C = Key.parse("C")
SONG = chords("C G7 C C7 F C G7 C")
NECK = Neck(TEACHER, tuple(SONG), SONG[0])


def test_a_shape_in_json_is_the_shape() -> None:
    for symbol in ("C7", "Dm7", "F/G", "G9"):
        chord = parse_chord(symbol)
        known = {one.shape.frets: one for one in TEACHER.vocabulary.shapes(chord)}
        turned = {one.frets for one in inversions(chord, TENOR, MEDIUM)}
        for shape in TEACHER.playable(chord)[:40]:
            one = known.get(shape.frets)
            made = shape_dict(shape, chord, COSTS, one)
            terms = COSTS.shape_terms(shape, chord)
            if one is None or one.new:
                terms["learning"] = COSTS.weights.learning
            assert made["cost"] == round(sum(terms.values()), 3)
            assert made["terms"] == {name: round(cost, 3) for name, cost in terms.items()}
            assert made["stretch_mm"] == round(shape.stretch_mm, 1)
            assert made["inversion"] == (shape.frets in turned)
            assert (made["frets"], made["fingers"]) == ([*shape.frets], [*shape.fingers])
            assert (made["barre"], made["rootless"]) == (shape.barre, shape.rootless)
            assert (made["open"], made["top"]) == (0 in shape.frets, shape.top)
            assert made["family"] == (one.family if one else None)
            assert made["derivation"] == (one.derivation.words(symbol) if one else None)


def test_positions_in_json_are_the_plans() -> None:
    plans = NECK.positions()
    taught = lesson(plans, SONG, C, COSTS, advice=NECK.learn_next)
    places = [(bar, 1 + bar / 3) for bar in range(1, 9)]
    document = positions_dict("Round", C, taught, SONG, places, COSTS)
    names = [(str(chord), numeral, said) for chord, numeral, said in taught.names]
    assert [tuple(one.values()) for one in document["names"]] == names
    for plan, one, made in zip(plans, taught.positions, document["positions"], strict=True):
        assert (made["name"], made["frets"], made["open"]) == (plan.name, [*plan.frets], plan.open)
        assert (made["cost"], made["gap"]) == (round(plan.cost, 3), round(plan.gap, 6))
        assert made["terms"] == {name: round(cost, 3) for name, cost in plan.terms.items()}
        assert made["stretch_mm"] == round(plan.stretch_mm, 1)
        assert [step["frets"] for step in made["path"]] == [[*s.frets] for s in plan.path]
        assert [step["beat"] for step in made["path"]] == [
            1.3333, 1.6667, 2, 2.3333, 2.6667, 3, 3.3333, 3.6667,
        ]  # fmt: skip
        assert [step["chord"] for step in made["path"]] == list(map(str, SONG))
        assert (made["families"], made["new"]) == ([*one.families], [*one.new])
        assert made["met_before"] == [*one.met]
        grips = [[{str(c): [*s.frets]} for c, s in plan.boxes if s.grip == g] for g in plan.new]
        assert [[{k: v} for k, v in row.items()] for row in made["to_learn"]] == grips
        steps = [(n - 1, n) for n in range(1, 8)] + [(7, 0)]
        rows = [
            (str(SONG[a]), str(SONG[b]), b + 1, round(COSTS.change(plan.path[a], plan.path[b]), 3))
            for a, b in steps
            if SONG[a] != SONG[b]
        ]
        found = [(r["from"], r["to"], r["bar"], r["cost"]) for r in made["changes"]]
        assert found == rows
        for change, row in zip(one.changes, made["lesson"]["changes"], strict=True):
            assert row["bars"] == sorted({at + 1 for at in change.places})
            assert (row["cost"], row["shift_mm"]) == (
                round(change.cost, 3), round(change.shift_mm, 1),
            )  # fmt: skip
            assert row["held"] == [4 - index for index in change.held]
            moves = [(m.finger, m.from_fret or None, m.to_fret or None) for m in change.fingers]
            told = [(m["finger"], m["from_fret"], m["to_fret"]) for m in row["fingers"]]
            assert told == moves
        for learnt, row in zip(one.learn_next, made["learn_next"], strict=True):
            assert (row["cost_less"], row["frets_less"]) == (round(learnt.cost, 3), learnt.frets)
            assert row["shift_mm_less"] == round(learnt.shift_mm, 1)
            assert (row["changes"], row["of"], row["words"]) == (
                learnt.changes, learnt.of, learnt.words,
            )  # fmt: skip
        assert [row["times"] for row in made["lesson"]["shapes"]] == [s.times for s in one.shapes]


@pytest.mark.slow
def test_keys_in_json_are_the_positions_of_each_key() -> None:
    rows = NECK.keys(C, Wish(vocabulary="first"))
    document = keys_dict("Round", TENOR, rows)
    for row, made in zip(rows, document["keys"], strict=True):
        assert (made["key"], made["problem"]) == (str(row.key), row.problem or None)
        for one, told in zip(row.positions, made["positions"], strict=True):
            plan = one.plan
            assert told == {
                "name": plan.name,
                "cost": round(plan.cost, 3),
                "frets": [*plan.frets],
                "highest_fret": max(f for s in plan.path for f in s.frets if f),
                "stretch_mm": round(plan.stretch_mm, 1),
                "open": any(0 in s.frets for s in plan.path),
                "slid_from": one.slid_from and one.slid_from[0],
                "slid_from_position": one.slid_from and one.slid_from[1],
                "notices": [*plan.notices],
            }


@pytest.mark.parametrize(
    ("symbol", "frets"), [("D7sus4", (0, 0, 0, 0)), ("Gsus2", (None, 0, 0, 0))]
)
def test_a_shape_of_open_strings_alone(symbol: str, frets: tuple[int | None, ...]) -> None:
    shape = shape_at(frets, parse_chord(symbol), TENOR, MEDIUM, mute=True)
    assert shape is not None
    assert (shape.lowest_fret, shape.highest_fret, shape.fretted, shape.stops) == (0, 0, (), ())
    assert (shape.fingers, shape.barre, shape.stretch_mm) == ((0,) * 4, None, 0.0)
