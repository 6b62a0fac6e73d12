"""Pinned shapes and notes on top: what is taken, what is wrong with it, and in another key.

Frets, notes and sentences are ours; what a shape sounds is judged elsewhere.
"""

from __future__ import annotations

import pytest

from accomp.errors import InputError
from accomp.harmony import Key, Spelling, parse_chord
from accomp.tune import parse_tune, transpose_tune, tune_toml
from accomp.tune.model import Pin, TopNotes, Tune

HEAD = 'title = "T"\nkey = "C"\nmeter = "4/4"\ntempo = 120\n'
BARS = '[sections]\nA = { bars = "| C | F7 |", first = "| G |", last = "| N.C. D |" }\n'


def tune(wishes: str, bars: str = BARS) -> Tune:
    return parse_tune(f"{HEAD}{bars}{wishes}\n", "t.toml")


def problem(wishes: str, bars: str = BARS) -> tuple[int, int, str, str, str, str]:
    with pytest.raises(InputError) as caught:
        tune(wishes, bars)
    (one,) = caught.value.problems
    return one.line, one.column, one.message, one.found, one.expected, one.hint


def test_shapes_are_frets_by_chord_wherever_it_stands() -> None:
    found = tune('[shapes]\nC = "0 0 2 1"\nG = "x  0 12 3"\nD = " 4 4 "')
    assert found.pins == (
        Pin(parse_chord("C"), (0, 0, 2, 1), "C"),
        Pin(parse_chord("G"), (None, 0, 12, 3), "G"),
        Pin(parse_chord("D"), (4, 4), "D"),
    )
    assert [(pin.name, pin.text) for pin in found.pins] == [
        ("C", "0 0 2 1"), ("G", "x 0 12 3"), ("D", "4 4"),
    ]  # fmt: skip
    assert found.places["shapes.G"] == (9, 5)


FRETS = "frets from the highest-numbered string to the first"


@pytest.mark.parametrize("frets", ['"0"', '""', '"0 0 y 1"', '"0 0 2 123"', '"0-0-2-1"', "1"])
def test_what_is_no_shape(frets: str) -> None:
    line, column, message, _, expected, hint = problem(f"[shapes]\nC = {frets}")
    shown = repr(frets[1:-1]) if frets[0] == '"' else frets
    assert (line, column) == (8, 5)
    assert message == f"'C' must be {FRETS}, and this is {shown}."
    assert (expected, hint) == (FRETS, 'Write C = "0 0 2 1".')


def test_shapes_of_chords_that_are_not_there() -> None:
    assert problem('[shapes]\nF = "1 1 1 1"') == (
        8, 5, "no bar of the tune has the chord F.", "F", "a chord of the tune",
        "Did you mean 'F7'?",
    )  # fmt: skip
    assert problem('[shapes]\nBbm9 = "1 1 1 1"') == (
        8, 8, "no bar of the tune has the chord Bbm9.", "Bbm9", "a chord of the tune",
        "Chords here are: C, F7, G, D.",
    )  # fmt: skip
    line, column, message, found, expected, hint = problem('[shapes]\nH = "1 1 1 1"')
    assert (line, column, found, expected) == (8, 5, "H", "a chord of the tune")
    assert message.startswith("'H' is not a chord symbol")
    assert hint == "Write the chord as the bars have it."


@pytest.mark.parametrize("name", ["shapes", "top"])
@pytest.mark.parametrize(("value", "shown"), [("1", "1"), ('"C"', "'C'"), ("[1]", "a list")])
def test_wishes_are_tables(name: str, value: str, shown: str) -> None:
    line, column, message, *_, hint = problem("", f"{name} = {value}\n{BARS}")
    assert (line, column) == (5, 4 + len(name))
    assert message == f"'{name}' must be a table [{name}], and this is {shown}."
    assert hint == f"Write [{name}] above its rows."


def test_notes_on_top_count_bars_as_they_come() -> None:
    found = tune('[top]\n4 = "- F#"\n1 = "E"\n3 = "Bb"')
    assert found.tops == (
        TopNotes(1, (Spelling("E"),)),
        TopNotes(3, (Spelling("B", -1),)),
        TopNotes(4, (None, Spelling("F", 1))),
    )
    # six bars: C F7 G, C F7 and the last ending
    assert [one.bar for one in tune('[top]\n6 = "E"').tops] == [6]


@pytest.mark.parametrize("bar", ["7", "0", "-1", "01", "x", "1.5", "100000"])
def test_what_is_no_bar(bar: str) -> None:
    line, column, message, found, expected, hint = problem(f'[top]\n"{bar}" = "E"')
    assert (line, column) == (8, 6 + len(bar))
    assert message == f"{bar!r} is no bar of the form, which has 6."
    assert (found, expected) == (bar, "a bar from 1 to 6")
    assert hint == 'Write the bar\'s number and its note, as 9 = "E".'


@pytest.mark.parametrize(
    ("notes", "found", "this"),
    [('""', "", "''"), ('"H"', "H", "'H'"), ('"E h"', "h", "'E h'"), ("5", "5", "5"),
     (f'"{"x" * 61}"', "x" * 57 + "...", f"'{'x' * 57}...'")],
)  # fmt: skip
def test_what_is_no_note(notes: str, found: str, this: str) -> None:
    what = "the note on top of the bar's chord, or of each of its chords"
    line, column, message, seen, expected, hint = problem(f"[top]\n1 = {notes}")
    assert (line, column, seen, expected) == (8, 5, found, what)
    assert message == f"'1' must be {what}, and this is {this}."
    assert hint == 'Write 1 = "E" or "E G".'


def test_wishes_in_another_key() -> None:
    found = tune('[shapes]\nC = "0 0 2 1"\nG = "x 5 7 12"\n[top]\n1 = "- E"')
    for key, up, top in (("D", 2, "F#"), ("B", 11, "D#"), ("F", 5, "A")):
        moved = transpose_tune(found, Key.parse(key))
        (pin,) = moved.pins
        assert pin.frets == (None, 5 + up, 7 + up, 12 + up)
        assert pin.chord == moved.sections["A"].endings[0][0].chords[0].chord
        assert moved.tops == (TopNotes(1, (None, Spelling.parse(top))),)
        assert moved.notices == (
            f"C 0 0 2 1 has open strings and cannot slide to {key}: the plan chooses a shape for "
            f"{key}.",
        )
    assert transpose_tune(found, "C") is found


def test_wishes_come_back_from_their_file() -> None:
    found = tune('[shapes]\nC = "0 0 2 1"\nF7 = "x 1 2 10"\n[top]\n2 = "E"\n4 = "- Bb"')
    text = tune_toml(found)
    assert '\n[shapes]\n"C" = "0 0 2 1"\n"F7" = "x 1 2 10"\n\n[top]\n2 = "E"\n4 = "- Bb"\n' in text
    assert parse_tune(text, "") == found
