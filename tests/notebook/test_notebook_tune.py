"""A tune built in code is the tune of the file that says the same, mistakes and all."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

import accomp
import accomp.tune
from accomp.tune import TuneFacts, parse_tune, tune_toml
from accomp.tune.read import TUNE_KEYS

FILE = """
title = "Both"
key = "Dm"
meter = "3/4"
tempo = 99
style = "waltz"
composer = "Nobody"
form = ["A", "B", "A"]
pickup = 1
begin = "vamp"
end = "ritard"
vocabulary = "first"
dim = "seventh"

[sections]
A = "| Dm | A7 / / | Dm Bb A7 |"
B = { bars = "| F | Bdim |", key = "F", meter = "6/8" }

[shapes]
"A7" = "2 2 2 3"

[top]
1 = "D"

[[chorus]]
position = "root-top"
"""


def test_a_tune_in_code_is_the_tune_of_its_file() -> None:
    coded = accomp.tune(
        {
            "A": "| Dm | A7 / / | Dm Bb A7 |",
            "B": {"bars": "| F | Bdim |", "key": "F", "meter": "6/8"},
        },
        title="Both",
        key="Dm",
        meter="3/4",
        tempo=99,
        style="waltz",
        composer="Nobody",
        form=("A", "B", "A"),
        pickup=Fraction(1),
        begin="vamp",
        end="ritard",
        vocabulary="first",
        dim="seventh",
        shapes={"A7": "2 2 2 3"},
        top={1: "D"},
        chorus=[{"position": "root-top"}],
    )
    read = parse_tune(FILE)
    assert coded == read
    assert coded.notices == read.notices
    assert parse_tune(coded.to_toml()) == coded
    assert tune_toml(coded) == coded.to_toml()


def test_what_a_file_can_say_can_be_said_in_code() -> None:
    said = {*TuneFacts.__annotations__, "sections"}  # which are the bars
    assert said == set(TUNE_KEYS)
    bars = {"A": "| C |", "B": "| F |", "V": "| Am |", "T": "| G7 |"}
    form = ["A", "B"]
    tune = accomp.tune(bars, key="C", form=form, choruses=2, intro="last 1", verse="V", coda=["T"])
    assert (tune.form, tune.times, tune.intro) == (("A", "B"), 2, 1)
    assert (tune.verse, tune.coda) == (("V",), ("T",))


def test_what_is_usual_need_not_be_said() -> None:
    tune = accomp.tune("| C | G7 | C | C |", key="C")
    assert (tune.title, str(tune.meter), tune.tempo, tune.form) == ("Untitled", "4/4", 120, ("A",))
    assert str(accomp.tune("| C |", key="C", meter=tune.meter).meter) == "4/4"


# Where a mistake in the bars stands: line and column of the text of bars itself.
MISTAKES = {
    "one text": (("| C | H7 |",), {"key": "C"}, "bars:1:7: 'H7' is not a chord symbol"),
    "another line": (("| C |\n| G7 X |",), {"key": "C"}, "bars:2:6: 'X' is not"),
    "a section": (
        ({"A": "| C |", "B": "| C C C |"},),
        {"key": "C"},
        "sections.B:1:3: a bar of 4/4 holds",
    ),
    "bars of a section": (
        ({"A": {"bars": "| C | H |"}},),
        {"key": "C"},
        "sections.A.bars:1:7: 'H' is not",
    ),
    "no key": (("| C |",), {}, "the key is missing"),
    "unknown": (("| C |",), {"key": "C", "tmpo": 3}, "'tmpo' is not known here. Did you"),
    "meter": (("| C |",), {"key": "C", "meter": "7/8"}, "Choose one of these"),
    "number": (("| C |",), {"key": "C", "tempo": object()}, "'tempo' must be a number"),
    "no bars": (("",), {"key": "C"}, "and this is empty"),
    "not bars": ((["| C |"],), {"key": "C"}, "bars are needed here, and this is a list"),
    "bytes": (({"A": b"| C |"},), {"key": "C"}, "'A' must be bars in quotes"),
    "form": (("| C |",), {"key": "C", "form": "AA"}, "'form' must be a list"),
    "shape": (("| C |",), {"key": "C", "shapes": {"C": "x y"}}, "must be"),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_mistakes_are_told_as_of_a_file(name: str) -> None:
    bars, facts, said = MISTAKES[name]
    with pytest.raises(accomp.InputError) as caught:
        accomp.tune(*bars, **facts)
    assert said in str(caught.value)
    assert not str(caught.value).startswith((":", "line ")), "there is no file to have lines"


def test_a_mistake_lies_where_it_is_said_to_lie() -> None:
    bars = "| C  | Am7 |\n|  G7  |  Qb |"
    with pytest.raises(accomp.InputError) as caught:
        accomp.tune(bars, key="C")
    (problem,) = caught.value.problems
    line = bars.split("\n")[problem.line - 1]
    assert line[problem.column - 1 :].startswith("Qb")


def test_the_room_is_called_and_is_still_a_room() -> None:
    assert accomp.tune.parse_tune is parse_tune
    assert accomp.tune is accomp.tune.room
    assert "can be called" in str(accomp.tune.__doc__)


def test_paths_are_texts_or_paths(tmp_path: Path) -> None:
    path = tmp_path / "both.toml"
    path.write_text(FILE)
    assert accomp.read_tune(str(path)) == accomp.read_tune(path)
