import re

import pytest
from neck_players import MEDIUM, TEACHER, TENOR, chords

from accomp.harmony import Key, parse_chord
from accomp.neck import (
    Neck,
    Plan,
    Player,
    Wish,
    find_instrument,
    lesson,
    playable_shapes,
    shape_at,
)
from accomp.neck.describe import keys_dict, positions_dict, shapes_dict
from accomp.neck.explain import explain
from accomp.neck.handout import handouts
from accomp.neck.lesson import recycled
from accomp.neck.naming import numeral, spoken

COSTS = TEACHER.cost_model()
ROUND = chords("C G7 C C7 F C G7 C")
C = Key.parse("C")


def neck(sequence, player=TEACHER):
    return Neck(player, tuple(sequence), sequence[0])


PLANS = neck(ROUND).positions()
LESSON = lesson(PLANS, ROUND, C, COSTS)
BARS = list(range(1, 9))


# Common practice: how a band says chords in a key; minor keys count their own scale.
@pytest.mark.parametrize(
    ("key", "symbol", "written", "said"),
    [
        ("C", "C", "I", "one"),
        ("C", "G7", "V7", "five seven"),
        ("C", "Dm7", "ii7", "two minor seven"),
        ("C", "Bb", "bVII", "flat seven"),
        ("Bb", "F7", "V7", "five seven"),
        ("Bb", "Edim7", "#ivdim7", "sharp four diminished seven"),
        ("Am", "E7b9", "V7b9", "five seven flat nine"),
        ("Am", "C", "III", "three"),
        ("Am", "Dm(maj7)", "iv(maj7)", "four minor, major seven"),
        ("F", "F/C", "I/5", "one over five"),
        ("C", "C/Bb", "I/b7", "one over flat seven"),
        ("Am", "Am7/G", "i7/7", "one minor seven over seven"),
        ("Bb", "Bb/E", "I/#4", "one over sharp four"),
        ("F", "Cadd9", "Vadd9", "five add nine"),
        ("F", "C9sus4", "V9sus4", "five nine suspended fourth"),
    ],
)
def test_a_chords_name_in_the_key(key, symbol, written, said):
    chord = parse_chord(symbol)
    assert (numeral(chord, Key.parse(key)), spoken(chord, Key.parse(key))) == (written, said)


def test_families_are_counted_and_known_again():
    root, third, fifth, _ = LESSON.positions
    assert root.families == ("C 0 0 2 3", "G7 2 0 3 2", "C7 0 0 2 1", "F 0 2 3 3")
    assert (root.met, root.new) == ((), root.families)
    # F 5 5 7 8 in the third-top position is the shape of C 0 0 2 3, four frets up.
    assert third.met == ("C 0 0 2 3",)
    assert third.new == ("C 4 5 5 7", "G7 2 4 3 5", "C7 4 3 5 3")
    assert fifth.new == ()
    for one in LESSON.positions:
        assert len(one.families) == len({shape.grip for shape in one.plan.path})
    f_again = next(one for one in third.shapes if str(one.chord) == "F")
    assert f_again.met == (("root-top", "C"),)
    assert f_again.family == "C 0 0 2 3"


def test_one_grip_of_several_names_is_one_family_everywhere():
    """Common practice, no source: E flat is C minor seventh without root, a half-diminished a minor
    sixth a third up, a diminished seventh a seventh flat nine without root, a minor seventh the
    sixth of the relative major."""
    for symbols in ("Eb Cm7", "Dm7b5 Fm6", "Bdim7 G7b9", "Am7 C6"):
        sequence = chords(symbols)
        shapes = [
            {shape.frets for shape in playable_shapes(chord, TENOR, MEDIUM)} for chord in sequence
        ]
        frets = next(one for one in sorted(shapes[0] & shapes[1]) if 0 not in one)
        path = tuple(shape_at(frets, chord, TENOR, MEDIUM) for chord in sequence)
        plan = Plan("area", path, 0.0, new=(path[0].grip,))
        taught = lesson([plan], sequence, C, COSTS)
        document = positions_dict("Round", C, taught, sequence, [(1, 1), (2, 1)], COSTS)
        (page,), (position,) = handouts(taught, 4, 80.0), document["positions"]
        assert len(taught.positions[0].families) == len(position["families"]) == 1
        assert len(position["to_learn"]) == 1
        assert {one["family"] for one in position["lesson"]["shapes"]} == set(position["families"])
        (grip,) = page.grips
        assert [str(chord) for place in grip.places for chord in place.chords] == symbols.split()
        assert [name.split()[0] for name in position["handout"]["grips"][0]["names"]][:2] == (
            symbols.split()
        )


def test_lesson_hand_out_and_json_count_the_same_families():
    sequence = chords("F F7 Bb Bdim7 F/C D7 G7 C7 F A7 D7 C7 C+ Dm7 Gm7b5")
    plans = neck(sequence).positions()
    taught = lesson(plans, sequence, Key.parse("F"), COSTS)
    places = [(bar, 1.0) for bar in range(len(sequence))]
    document = positions_dict("Round", C, taught, sequence, places, COSTS)
    for one, page, row in zip(
        taught.positions, handouts(taught, 4, 80.0), document["positions"], strict=True
    ):
        grips = {shape.grip for shape in one.plan.path}
        assert len(one.families) == len(page.grips) == len(row["families"]) == len(grips)
        assert len(row["handout"]["grips"]) == len(grips)
        learnt = [grip for grip in page.grips if grip.to_learn]
        assert len(learnt) == len(one.plan.new) == len(row["to_learn"])
        assert sum(grip["to_learn"] for grip in row["handout"]["grips"]) == len(learnt)
        assert {shape["family"] for shape in row["lesson"]["shapes"]} == set(row["families"])


def test_no_grip_is_called_as_a_position_is():
    sequence = chords("F F7 Bb Bdim7 F/C D7 G7 C7 F A7 D7 C7 C+")
    plans = neck(sequence).positions(Wish(vocabulary="first"))
    taught = lesson(plans, sequence, Key.parse("F"), COSTS)
    again = [name for name, _ in recycled(taught)]
    assert len(set(again)) == len(again) > 3
    shapes = {f"{one.chord} {one.shape}" for at in taught.positions for one in at.shapes}
    for one in taught.positions:
        assert len(set(one.families)) == len(one.families)
        assert shapes.issuperset(one.families)
    text = "\n".join(explain(taught, TENOR, list(range(len(sequence))), comfort_mm=80))
    for words in re.findall(r"[^;(]*-top(?:-high)?", text):
        # Only ever where something lies.
        assert re.search(r"( in |^|, | and |\n)[a-z]+-top(-high)?$", words), words
    assert not re.search(r"(shape|from \S+ [\d ]+\() ?\w+-top", text)


def test_one_family_is_same_frets_and_same_degrees():
    by_text = {str(shape.shape): shape.shape for one in LESSON.positions for shape in one.shapes}
    assert by_text["0 0 2 3"].grip == by_text["5 5 7 8"].grip
    assert by_text["2 4 3 5"].grip == by_text["7 9 8 10"].grip
    assert by_text["0 0 2 3"].grip != by_text["4 5 5 7"].grip


def test_changes_are_ordered_by_what_they_cost_and_say_what_moves():
    third = LESSON.positions[1]
    costs = [change.cost for change in third.changes]
    assert costs == sorted(costs, reverse=True)
    found = {(str(c.from_chord), str(c.to_chord)): c for c in third.changes}
    assert set(found) == {("C", "G7"), ("G7", "C"), ("C", "C7"), ("C7", "F"), ("F", "C")}
    easing = found["C", "C7"]  # 4 5 5 7 to 4 3 5 3: fourth and second string sound on
    assert [TENOR.string_number(index) for index in easing.held] == [4, 2]
    assert {(move.finger, move.does) for move in easing.fingers} == {
        (1, "comes down"),
        (2, "takes over"),  # the index leaves it for the third fret
        (3, "stays"),
        (4, "lifts"),
    }
    # The hand goes from the fourth fret to the second: 533 (2^(-2/12) - 2^(-4/12)) = 51.8 mm.
    assert found["C", "G7"].shift_mm == pytest.approx(-51.8, abs=0.05)
    assert found["C", "G7"].places == (1, 6)
    for change in third.changes:
        assert sum(change.terms.values()) == pytest.approx(change.cost)


def test_the_hardest_changes_are_the_dearest_pairs_of_two_chords():
    for one in LESSON.positions:
        hardest = [frozenset((str(c.from_chord), str(c.to_chord))) for c in one.hardest]
        dearest = {}
        for change in one.changes:
            pair = frozenset((str(change.from_chord), str(change.to_chord)))
            dearest[pair] = max(change.cost, dearest.get(pair, 0.0))
        assert hardest == sorted(dearest, key=lambda pair: -dearest[pair])[:3]
        assert [c.cost for c in one.hardest] == [dearest[pair] for pair in hardest]


def test_another_shape_of_the_same_chord_is_not_drilled():
    chord = ROUND[0]
    low, high = (plan.path[0] for plan in PLANS[:2])
    plan = Plan("both", (low, high), 0.0, one_shape=False)
    taught = lesson([plan], [chord, chord], C, COSTS)
    (one,) = taught.positions
    assert len(one.changes) == 2
    assert one.hardest == ()
    assert "Drill first" not in "\n".join(explain(taught, TENOR, [1, 2], comfort_mm=80))


def test_every_change_is_drilled_from_one_of_its_places():
    for one in LESSON.positions:
        places = sorted(index for change in one.changes for index in change.places)
        # The round ends and begins with C: there is nothing to change at its first chord.
        assert places == [1, 2, 3, 4, 5, 6, 7]


def test_the_lesson_in_words_says_all_of_it():
    drawn = []

    def draw(boxes):
        drawn.extend(boxes)
        return ["[boxes]"]

    text = "\n".join(explain(LESSON, TENOR, BARS, comfort_mm=80, draw=draw))
    assert "G7: five seven (V7)" in text
    assert "third-top, frets 2 to 8, closed: it slides to other keys and can be choked." in text
    assert "C7 4 3 5 3 is made from C 4 5 5 7: the root on the third string" in text
    assert (
        "F 5 5 7 8 is the shape C 0 0 2 3, five frets up. This grip is F and Dm7 without root. "
        "Once. Met before as C in root-top."
    ) in text
    assert "C 0 0 2 3 is one of the first shapes." in text
    assert "the hand goes two frets down; " in text
    assert not re.search(r"\d mm (up|down)", text)
    assert "Drill first: C to G7, C7 to F and F to C" in text
    assert "G7 2 0 3 2 is the shape G7 grip itself. Twice." in text
    assert "middle finger takes over on the fourth string from the index finger" in text
    assert re.search(r"Cost 13\.\d: fingers", text)
    assert ("G7", (2, 4, 3, 5), (1, 3, 2, 4)) in drawn
    again = [name for name, *_ in drawn if name in ("G7 (third-top)", "C7 (fifth-top)")]
    assert again == ["G7 (third-top)", "C7 (fifth-top)"]
    plain = "\n".join(explain(LESSON, TENOR, BARS, comfort_mm=80))
    assert "G7 2 4 3 5: G7 in third-top and C7 in fifth-top" in plain
    assert ("C", (4, 5, 5, 7), (0, 0, 0, 0)) in drawn  # what C7 4 3 5 3 is made from
    assert "stop when the hand hurts" not in text
    tight = "\n".join(explain(LESSON, TENOR, BARS, comfort_mm=60))
    assert "stop when the hand hurts" in tight
    assert "no frets" not in text


def test_the_lesson_says_what_is_not_from_the_repertoire():
    sequence = [parse_chord(symbol) for symbol in "C G7 C".split()]
    plans = neck(sequence).positions(Wish(vocabulary="all"))
    text = "\n".join(explain(lesson(plans, sequence, C, COSTS), TENOR, [1, 2, 3], comfort_mm=80))
    for plan in plans:
        for chord, shape, known in zip(sequence, plan.path, plan.known, strict=True):
            if known is None:
                assert f"{chord} {shape} is not made from your repertoire" in text
                assert re.search(rf"Families: .*\b{chord} {shape}\b", text)


def test_keys_mark_what_is_a_slide():
    rows = neck(ROUND).keys(C)
    assert [str(row.key) for row in rows] == "C Db D Eb E F Gb G Ab A Bb B".split()
    plans = {(str(r.key), p.plan.name): p for r in rows for p in r.positions}
    origins = {key: one.slid_from for key, one in plans.items() if one.slid_from}
    assert origins
    for key, origin in origins.items():
        slid, source = plans[key].plan, plans[origin].plan
        apart = {
            high - low
            for a, b in zip(slid.path, source.path, strict=True)
            for high, low in zip(a.frets, b.frets, strict=True)
        }
        assert len(apart) == 1
        assert apart.pop() > 0
        assert not slid.open
        assert plans[origin].slid_from is None
    # By hand: what lies at 7 9 10 10 in C lies a tone higher in D.
    here = origins.get(("C", "fifth-top"), ("C", "fifth-top"))  # or C is the lowest itself
    assert origins["D", "fifth-top"] == here


def test_a_key_without_any_position_says_why():
    from dataclasses import replace

    short = replace(TENOR, frets=3)
    rows = neck(ROUND, Player.on(short, MEDIUM)).keys(C, Wish(closed=True))
    without = [row for row in rows if not row.positions]
    assert without
    assert all("Tenor banjo" in row.problem for row in without)


def test_minor_tunes_have_minor_keys():
    sequence = [parse_chord(symbol) for symbol in "Am E7 Am Dm".split()]
    rows = neck(sequence).keys(Key.parse("Am"))
    assert [str(row.key) for row in rows][:3] == ["Cm", "C#m", "Dm"]
    assert [str(chord) for chord in rows[1].chords] == ["C#m", "G#7", "C#m", "F#m"]


def test_shapes_as_json():
    # The keys are a contract with other people's scripts; values by hand for C7 0 0 2 1.
    chord = parse_chord("C7")
    from accomp.neck import shape_at

    shape = shape_at((0, 0, 2, 1), chord, TENOR, MEDIUM)
    document = shapes_dict(chord, [(shape, None)], COSTS)
    assert (document["chord"], document["instrument"]) == ("C7", "tenor-banjo")
    one = document["shapes"][0]
    assert one["frets"] == [0, 0, 2, 1]
    assert one["notes"] == ["C3", "G3", "E4", "Bb4"]
    assert one["degrees"] == ["1", "5", "3", "b7"]
    assert (one["top"], one["open"], one["rootless"], one["barre"]) == ("b7", True, False, None)
    assert (one["fingers"], one["stretch_mm"]) == ([0, 0, 2, 1], 28.2)
    assert (one["family"], one["derivation"]) == (None, None)
    open_c = shape_at((None, 3, 2, 0, 1, 0), parse_chord("C"), find_instrument("guitar"), MEDIUM)
    one = shapes_dict(parse_chord("C"), [(open_c, None)], COSTS)["shapes"][0]
    assert one["notes"] == [None, "C3", "E3", "G3", "C4", "E4"]
    assert one["degrees"] == [None, "1", "3", "5", "1", "3"]
    assert sum(one["terms"].values()) == pytest.approx(one["cost"], abs=0.01)


def test_positions_as_json():
    places = [(bar, 1.0) for bar in BARS]
    document = positions_dict("Round", C, LESSON, ROUND, places, COSTS)
    assert [document[key] for key in ("tune", "key", "instrument")] == ["Round", "C", "tenor-banjo"]
    third = document["positions"][1]
    assert (third["name"], third["frets"], third["open"]) == ("third-top", [2, 8], False)
    assert third["shapes"]["C7"] == [4, 3, 5, 3]
    assert third["path"][3] == {"bar": 4, "beat": 1, "chord": "C7", "frets": [4, 3, 5, 3]}
    assert (third["proved"], third["gap"]) == (True, 0)
    first = third["changes"][0]
    assert (first["from"], first["to"], first["bar"]) == ("C", "G7", 2)
    assert (first["shift_mm"], first["held"]) == (-51.8, [])
    assert len(third["changes"]) == 7  # the last C leads to the first without a change
    assert third["families"] == list(LESSON.positions[1].families)
    assert {"names", "positions"} < set(document)


def test_free_plans_as_json_have_no_shape_a_chord():
    plans = neck(ROUND).positions(Wish(one_shape=False))
    taught = lesson(plans, ROUND, C, COSTS)
    places = [(bar, 1.5) for bar in BARS]
    document = positions_dict("Round", C, taught, ROUND, places, COSTS)
    assert all("shapes" not in one for one in document["positions"])
    assert document["positions"][0]["path"][0]["beat"] == 1.5


def test_keys_as_json():
    rows = neck(ROUND).keys(C)
    document = keys_dict("Round", TENOR, rows)
    assert len(document["keys"]) == 12
    one = document["keys"][0]["positions"][0]
    assert {"name", "cost", "highest_fret", "stretch_mm", "open", "slid_from"} <= set(one)
    assert (one["name"], one["highest_fret"], one["open"]) == ("root-top", 3, True)
