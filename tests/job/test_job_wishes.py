"""Pinned shapes and notes wished on top: kept, planned round, or refused with their place."""

import pytest

from accomp.errors import InputError, NoShapeError
from accomp.harmony import Key
from accomp.job.options import Options
from accomp.job.positions import tune_neck
from accomp.job.request import resolve
from accomp.neck import player
from accomp.tune import model, parse_tune, transpose_tune
from accomp.tune.write import tune_toml

TUNE = """title = "Pin Street"
key = "C"
meter = "4/4"
tempo = 120
{more}
[sections]
A = "| C | G7 | C | C7 | F | F / G7 / | C | C |"
{tables}
"""


def tune(tables="", more=""):
    return parse_tune(TUNE.format(more=more, tables=tables), "pins.toml")


def planned(one, key=None, **options):
    moved = one if key is None else transpose_tune(one, Key.parse(key))
    neck = tune_neck(moved, resolve(moved, Options(**options)))
    return neck, neck.asked_for()


def test_the_rooms_of_the_tune_and_of_the_neck_have_the_same_vocabularies():
    # Neither room knows the other, and no room left of both is about shapes.
    assert model.VocabularyName == player.VocabularyName
    assert model.VOCABULARIES == player.VOCABULARIES


def test_a_pinned_shape_is_kept_and_the_rest_is_planned_round_it():
    free, pinned = tune(), tune('[shapes]\n"C7" = "4 3 5 3"\n"F" = "5 5 7 8"')
    neck, plans = planned(pinned)
    assert plans
    before = {plan.name: plan for plan in planned(free)[1]}
    for plan in plans:
        for chord, shape in zip(neck.chords.chords, plan.path, strict=True):
            assert str(chord) != "C7" or str(shape) == "4 3 5 3"
            assert str(chord) != "F" or str(shape) == "5 5 7 8"
        if plan.name in before:
            assert plan.cost >= before[plan.name].cost - 1e-9


def test_a_note_on_top_is_kept_in_its_bar_and_only_there():
    one = tune('[top]\n3 = "E"\n6 = "- D"')
    neck, plans = planned(one)
    assert plans
    for plan in plans:
        tops = {}
        for (bar, _), chord, shape in zip(
            neck.chords.places, neck.chords.chords, plan.path, strict=True
        ):
            tops.setdefault((bar, str(chord)), shape.top_pitch % 12)
        assert tops[3, "C"] == 4
        assert tops[6, "G7"] == 2
    assert any(plan.path[0].top_pitch % 12 != 4 for plan in plans)


def test_the_inline_form_reads_the_same_and_both_are_written():
    one = tune(more='top = {{ 3 = "E", 6 = "- D" }}'.replace("{{", "{").replace("}}", "}"))
    assert one == tune('[top]\n3 = "E"\n6 = "- D"')
    both = tune('[shapes]\n"C7" = "0 0 2 1"\n[top]\n3 = "E"')
    assert parse_tune(tune_toml(both)) == both


def test_in_another_key_closed_shapes_slide_and_open_ones_stay_behind():
    both = tune('[shapes]\n"C7" = "0 0 2 1"\n"F" = "5 5 7 8"\n[top]\n3 = "E"')
    moved = transpose_tune(both, Key.parse("D"))
    assert [(str(pin.chord), pin.text) for pin in moved.pins] == [("G", "7 7 9 10")]
    assert [str(note) for note in moved.tops[0].notes] == ["F#"]
    assert any("C7 0 0 2 1 has open strings" in notice for notice in moved.notices)
    low = transpose_tune(
        tune('[shapes]\n"C" = "12 14 14 12"\n'.replace("12 14 14 12", "7 9 10 10")), Key.parse("B")
    )
    assert low.pins[0].text == "18 20 21 21"
    _, plans = planned(low)
    assert {str(plan.path[0]) for plan in plans} == {"6 8 9 9"}


@pytest.mark.parametrize(
    ("tables", "message", "line", "column"),
    [
        ('[shapes]\n"C7" = "0 0 2 3"', "0 0 2 3 is not C7 on Tenor banjo", 9, 8),
        ('[shapes]\n"C7" = "4 3 5 13"', "C7 4 3 5 13 cannot be fingered", 9, 8),
        ('[shapes]\n"C7" = "0 0 2"', "has 3 frets, and Tenor banjo has 4 strings", 9, 8),
        (
            '[shapes]\n"C" = "4 5 5 7"\n[top]\n3 = "G"',
            "C is to be 4 5 5 7, which has E on top",
            11,
            5,
        ),
        ('[shapes]\n"C7" = "0 0 2 25"', "beyond the 17 frets", 9, 8),
        ('[shapes]\n"C7" = "4 15 5 3"', "cannot be fingered", 9, 8),
        ('[shapes]\n"C7" = 4', "must be frets from the highest-numbered string", 9, 8),
        ('[shapes]\n"D7" = "2 2 4 3"', "no bar of the tune has the chord D7", 9, 8),
        ('[shapes]\n"H" = "2 2 4 3"', "not a chord symbol", 9, 7),
        ('[top]\n3 = "F"', "F is no tone of C", 9, 5),
        ('[top]\n9 = "E"', "no bar of the form, which has 8", 9, 5),
        ('[top]\nx = "E"', "no bar of the form", 9, 5),
        ('[top]\n3 = "E G"', "bar 3 has 1 chord, and 2 notes", 9, 5),
        ('[top]\n3 = "Q"', "must be the note on top", 9, 6),
    ],
)
def test_a_wish_that_cannot_be_met_is_told_with_its_place(tables, message, line, column):
    with pytest.raises(InputError) as caught:
        planned(tune(tables))
    (problem,) = caught.value.problems
    assert message in problem.message
    assert problem.line == line
    assert problem.hint or problem.expected
    assert problem.file == "pins.toml"


def test_on_another_instrument_what_it_cannot_do_is_left_out_and_told():
    both = tune('[shapes]\n"C7" = "0 0 2 1"\n[top]\n3 = "E"')
    neck, plans = planned(both, instrument="mandolin")
    assert plans
    assert not neck.wish.pins
    assert [note for note in neck.chords.notices if "left out on Mandolin" in note] == [
        "C7 0 0 2 1 is a shape for the tune's own instrument and is left out on Mandolin."
    ]
    kept, _ = planned(both, instrument="tenor-banjo-19")  # the same strings
    assert [str(chord) for chord, _ in kept.wish.pins] == ["C7"]
    with pytest.raises(InputError, match="no tone of"):  # wrong on every neck
        planned(tune('[top]\n3 = "F"'), instrument="mandolin")


def test_a_note_that_no_shape_has_on_top_says_which_there_are():
    with pytest.raises(InputError, match=r"no shape of C on .* has C on top") as caught:
        planned(tune('[top]\n3 = "C"'), reach_mm=20.0, closed=True)
    assert caught.value.problems[0].expected.startswith("one of")


def test_wishes_that_lie_too_far_apart_say_what_to_leave_out():
    apart = tune('[shapes]\n"C7" = "0 0 2 1"\n"F" = "12 14 15 15"')
    with pytest.raises(NoShapeError, match="without the pinned C7 0 0 2 1 and the pinned F 12"):
        planned(apart)


def test_check_tells_of_them_too(tmp_path):
    from accomp.job.check import problems_in

    path = tmp_path / "pins.toml"
    path.write_text(TUNE.format(more="", tables='[shapes]\n"C7" = "0 0 2 3"'))
    (found,) = problems_in(path)
    assert (found.line, found.found) == (9, "0 0 2 3")
