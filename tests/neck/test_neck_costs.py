import pytest

from accomp.errors import InputError
from accomp.harmony import parse_chord
from accomp.neck import (
    CostModel,
    default_weights,
    find_hand,
    find_instrument,
    read_weights,
    shape_at,
)
from accomp.neck.cost import change_amounts, mud, shape_amounts
from accomp.neck.fingers import finger_moves
from accomp.neck.weights import CHANGE_TERMS, SHAPE_TERMS, TUNE_TERMS

TENOR = find_instrument("tenor-banjo")
MEDIUM = find_hand("medium")


def shape(symbol, frets, instrument=TENOR):
    row = tuple(None if fret == "x" else int(fret) for fret in frets.split())
    return shape_at(row, parse_chord(symbol), instrument, MEDIUM.with_reach(110))


def amounts(symbol, frets, **rest):
    chord = parse_chord(symbol)
    counted = shape_amounts(shape(symbol, frets), chord, TENOR, MEDIUM, **rest)
    return dict(zip(SHAPE_TERMS, counted, strict=True))


def change(a, b):
    return dict(zip(CHANGE_TERMS, change_amounts(shape(*a), shape(*b), TENOR), strict=True))


def test_amounts_of_a_shape_counted_by_hand():
    # C7 4 3 5 7: 92.5 mm by the fret formula, 12.5 beyond comfort; four fingers; index at the
    # third fret; no C; E twice (the third).
    counted = amounts("C7", "4 3 5 7")
    assert counted["stretch"] == pytest.approx(9.25, abs=0.005)
    assert counted["strain"] == pytest.approx(1.25, abs=0.005)
    assert (counted["fingers"], counted["barre"], counted["height"]) == (4, 0, 2)
    assert (counted["rootless"], counted["fifthless"], counted["doubled"]) == (1, 0, 1)
    assert (counted["ringing"], counted["crossed"]) == (0, 0)
    assert amounts("F", "5 5 7 8")["barre"] == 1
    assert amounts("C", "0 0 2 3", choked=True)["ringing"] == 2
    assert amounts("C7", "0 3 2 3")["fifthless"] == 1


def test_a_string_as_high_as_the_next_one_counts_as_crossed():
    # Tenor banjo, C3 G3 D4 A4: the third string at fret 7 is the open second, at 9 above it.
    assert amounts("G5", "7 7 0 10")["crossed"] == 1
    assert amounts("Em7", "7 9 0 7")["crossed"] == 1
    assert amounts("G", "7 4 5 5")["crossed"] == 0


def test_a_bass_in_the_chord_is_wanted_lowest():
    assert amounts("F/A", "0 2 3 3")["bass"] == 1
    assert amounts("F/C", "0 2 3 3")["bass"] == 0
    assert amounts("F/G", "0 2 3 3")["bass"] == 0  # no chord tone: the band's bass has it


def guitar(symbol, frets):
    instrument = find_instrument("guitar")
    row = tuple(None if fret == "x" else int(fret) for fret in frets.split())
    chord = parse_chord(symbol)
    counted = shape_amounts(shape_at(row, chord, instrument, MEDIUM), chord, instrument, MEDIUM)
    return dict(zip(SHAPE_TERMS, counted, strict=True))


def test_a_finger_that_lies_far_counts_each_string_beyond_four():
    assert guitar("F", "1 3 3 2 1 1")["across"] == 2
    assert guitar("C", "x 3 5 5 5 3")["across"] == 1
    assert guitar("C", "x 3 2 0 1 0")["across"] == 0
    assert amounts("F", "5 5 7 8")["across"] == 0


def test_what_sounds_as_another_triad_is_told_apart():
    mandolin = find_instrument("mandolin")
    for symbol, frets, another in [
        ("Am7", "0 2 3 0", 1), ("Am7", "2 2 3 3", 0), ("Cmaj7", "0 2 2 0", 1), ("C", "0 2 3 0", 0),
    ]:  # fmt: skip
        chord = parse_chord(symbol)
        counted = shape_amounts(shape(symbol, frets, mandolin), chord, mandolin, MEDIUM)
        assert dict(zip(SHAPE_TERMS, counted, strict=True))["another"] == another, (symbol, frets)
    # A diminished triad is nobody's chord: C7 without its root is heard as C7.
    assert amounts("F7", "0 2 1 0")["another"] == 0


def test_a_bass_note_that_is_not_the_root_counts_where_a_bass_is_heard():
    assert guitar("G7", "3 2 0 0 0 1")["inverted"] == 0
    assert guitar("G7", "1 2 0 0 0 3")["inverted"] == 4
    assert guitar("Bb7", "4 5 3 3 x x")["inverted"] == 4
    assert guitar("C/E", "0 3 2 0 1 0")["inverted"] == 0  # as it is written
    assert guitar("C", "0 3 2 0 1 0")["inverted"] == 1
    assert guitar("C", "3 3 2 0 1 0")["inverted"] == 0  # the fifth
    assert amounts("G7", "2 4 3 5")["inverted"] == 0  # not below C3
    # The barre chords that everybody plays are cheaper than the same with the seventh lowest.
    weights = default_weights().by_name()
    for symbol, root, seventh in [
        ("Fmaj7", "1 3 2 2 1 1", "0 3 3 2 1 1"), ("Bbmaj7", "x 1 3 2 3 1", "x 0 3 3 3 1"),
    ]:  # fmt: skip
        costs = [sum(weights[term] * amount for term, amount in guitar(symbol, frets).items())
                 for frets in (root, seventh)]  # fmt: skip
        assert costs[0] < costs[1] - 0.3


def test_on_six_strings_a_third_may_sound_twice():
    assert guitar("C", "x 3 2 0 1 0")["doubled"] == 0
    assert guitar("G", "3 2 0 0 0 3")["doubled"] == 0
    assert amounts("C", "4 5 5 7")["doubled"] == 1


def test_mud_counts_low_close_intervals():
    # Below middle C (60) a clear interval has at least (60 - low) / 3 semitones: the fourth C3 F3
    # (5) is clear, the major third F2 A2 (4; 19/3 wanted) lacks 7/3.
    guitar = find_instrument("guitar")
    assert mud(shape("C", "0 0 2 3")) == 0
    low = shape("F", "1 0 3 2 1 1", guitar)
    assert low.pitches[:2] == (41, 45)
    assert mud(low) == pytest.approx(19 / 3 - 4)


def test_amounts_of_a_change_counted_by_hand():
    # C 4 5 5 7 (1 2 3 4) to F 5 5 7 8 (1 1 3 4): third string held; index slides, middle stays
    # on the held string, ring and little slide; top E5 to F5; E C G E to F C A F moves 1 0 2 1.
    counted = change(("F", "5 5 7 8"), ("C", "4 5 5 7"))
    assert counted["shift"] == pytest.approx((TENOR.fret_mm(5) - TENOR.fret_mm(4)) / 10)
    assert (counted["put_down"], counted["lifted"], counted["slid"]) == (0, 0, 3)
    assert (counted["top"], counted["voices"]) == (1, 4)
    assert not any(change(("C", "4 5 5 7"), ("C", "4 5 5 7")).values()), "the hand stays as it is"


def test_held_strings_cost_no_finger():
    # C 0 0 2 3 to C7 0 0 2 1: the second string is held at fret 2 (middle in place of index).
    counted = change(("C", "0 0 2 3"), ("C7", "0 0 2 1"))
    assert (counted["put_down"], counted["lifted"], counted["slid"]) == (1, 0, 0)
    moves = {
        move.finger: move.does
        for move in finger_moves(shape("C", "0 0 2 3"), shape("C7", "0 0 2 1"))
    }
    assert moves == {1: "comes down", 2: "takes over"}


def test_only_a_finger_that_stood_there_stays():
    # C 0 0 2 3 has index and middle, C7 0 0 2 1 index and middle: on the second string, fret 2,
    # the middle finger comes in for the index, which goes back to fret 1 on the first string.
    here, there = shape("C", "0 0 2 3"), shape("C7", "0 0 2 1")
    assert (here.fingers, there.fingers) == ((0, 0, 1, 2), (0, 0, 2, 1))
    words = [move.words(4) for move in finger_moves(here, there)]
    assert words == [
        "index finger comes down on the first string at fret 1",
        "middle finger takes over on the second string from the index finger",
    ]
    for a in (("C", "0 0 2 3"), ("F", "0 2 3 3"), ("C", "4 5 5 7"), ("G7", "2 0 3 2")):
        for b in (("C7", "0 0 2 1"), ("C7", "4 3 5 3"), ("F", "5 5 7 8"), ("C", "0 0 2 3")):
            here, there = shape(*a), shape(*b)
            for move in finger_moves(here, there):
                stood = {i for i, one in enumerate(here.fingers) if one == move.finger}
                if move.does == "stays":
                    assert set(move.strings) <= stood, (a, b)
                if move.does == "takes over":
                    assert (
                        {here.fingers[i] for i in move.strings} >= set(move.from_fingers) != set()
                    )


def test_a_finger_that_lies_wider_comes_down_and_does_not_slide():
    moves = finger_moves(shape("C", "7 9 10 10"), shape("G7", "7 7 9 8"))
    assert (moves[0].finger, moves[0].does, moves[0].strings) == (1, "comes down", (0, 1))
    assert "lies down on the fourth and third strings at fret 7" in moves[0].words(4)


def test_fingers_in_words_agree_with_the_amounts():
    for a in (("C", "0 0 2 3"), ("C", "4 5 5 7"), ("G7", "2 0 3 2"), ("F", "5 5 7 8")):
        for b in (("C7", "4 3 5 3"), ("C", "7 9 10 10"), ("G7", "7 7 9 8"), ("F", "0 2 3 3")):
            does = [move.does for move in finger_moves(shape(*a), shape(*b))]
            counted = change(a, b)
            assert counted["put_down"] == does.count("comes down")
            assert counted["lifted"] == does.count("lifts")
            assert counted["slid"] == does.count("slides")


def test_terms_add_up_to_the_cost():
    costs = CostModel(TENOR, MEDIUM, default_weights(), choked=True)
    one, other = shape("C7", "4 3 5 7"), shape("F", "0 2 3 3")
    chord = parse_chord("C7")
    terms = costs.shape_terms(one, chord)
    assert sum(terms.values()) == pytest.approx(costs.shape(one, chord))
    changes = costs.change_terms(one, other)
    assert sum(changes.values()) == pytest.approx(costs.change(one, other))
    assert costs.change(one, one) == 0


def test_every_term_has_a_weight_and_a_unit():
    from accomp.files.data import package_file

    text = package_file("costs.toml").read_text(encoding="utf-8")
    for term in SHAPE_TERMS + CHANGE_TERMS + TUNE_TERMS:
        line = next(row for row in text.splitlines() if row.startswith(f"{term} "))
        assert "# " in line, term
    assert set(default_weights().by_name()) == set(SHAPE_TERMS + CHANGE_TERMS + TUNE_TERMS)


def test_a_users_weights_replace_single_terms(tmp_path):
    path = tmp_path / "costs.toml"
    path.write_text("[shape]\nheight = 3\n[change]\ntop = 0\n")
    weights = read_weights(path).by_name()
    assert (weights["height"], weights["top"]) == (3, 0)
    assert weights["shift"] == default_weights().by_name()["shift"]


@pytest.mark.parametrize(
    ("text", "message", "line", "column"),
    [
        (
            "[shape]\nheight = -1\n",
            "a number from 0 to 1000000, and this is -1",
            2,
            10,
        ),
        (
            "[shape]\nheight = nan\n",
            "a number from 0 to 1000000, and this is nan",
            2,
            10,
        ),
        ("[shape]\nhight = 1\n", "'hight' is not known here", 2, 1),
        # What a shape that is not known cost each time it was played; learning is paid once.
        ("[shape]\nunfamiliar = 2\n", "'unfamiliar' is not known here", 2, 1),
        ("[tune]\nunfamiliar = 2\n", "'unfamiliar' is not known here", 2, 1),
        ("[changes]\ntop = 1\n", "'changes' is not known here", 1, 2),
        ("shape = 3\n", "'shape' must be a table [shape], and this is 3", 1, 9),
    ],
)
def test_a_wrong_cost_file_says_where(tmp_path, text, message, line, column):
    path = tmp_path / "costs.toml"
    path.write_text(text)
    with pytest.raises(InputError) as caught:
        read_weights(path)
    problem = caught.value.problems[0]
    assert message in problem.message
    assert (problem.line, problem.column) == (line, column)


def test_a_users_own_file_in_his_folder_replaces_the_packages(tmp_path, monkeypatch):
    monkeypatch.setattr("accomp.neck.weights.data_folder", lambda: tmp_path)
    (tmp_path / "costs.toml").write_text("[shape]\nbarre = 7\n")
    default_weights.cache_clear()
    try:
        weights = default_weights().by_name()
        assert weights["barre"] == 7
        assert weights["shift"] > 0
    finally:
        default_weights.cache_clear()


def test_a_line_moves_one_string_between_chords_on_one_root():
    # Cm Cm(maj7) Cm7 Cm6: the root goes down on the first string, the rest stays.
    assert change(("Cm", "0 0 1 3"), ("Cm(maj7)", "0 0 1 2"))["line"] == 0
    assert change(("C", "4 5 5 7"), ("C7", "4 3 5 3"))["line"] == 1
    assert change(("C", "0 0 2 3"), ("F", "0 2 3 3"))["line"] == 0  # another root


def test_what_is_stopped_counts_only_where_strings_ring():
    assert amounts("C", "0 0 2 3")["stopped"] == 0
    assert amounts("C", "0 0 2 3", rings=True)["stopped"] == 2
