"""Changing one value of a file's text: what was asked and nothing else."""

from __future__ import annotations

import tomllib

import pytest
from desk_server import EXAMPLES, SMALL
from hypothesis import given
from hypothesis import strategies as st

from accomp.errors import InputError
from accomp.tune import parse_tune
from accomp.web.desk.edit import edited

FULL = '''\ufeff# head
title = 'One'  # kept
key="F" # tight
meter = """4/4"""
form = [ "A", # first
  "B" ]
[sections]
A = "| F |"   # a remark
B = { bars = "| C |", key = "C" }
[shapes] # mine
"C7" = "0 0 2 1" # as taught
'''.removeprefix("\ufeff")


@pytest.mark.parametrize(
    ("path", "value", "line"),
    [
        (("title",), 'A "B" \\ ]', r'title = "A \"B\" \\ ]"  # kept'),
        (("key",), "Bb", 'key="Bb" # tight'),
        (("meter",), "3/4", 'meter = "3/4"'),
        (("shapes", "C7"), "x 0 2 1", '"C7" = "x 0 2 1" # as taught'),
    ],
)
def test_a_value_is_put_in_its_place(path: tuple[str, ...], value: str, line: str) -> None:
    before, after = FULL.splitlines(), edited(FULL, path, value).splitlines()
    assert [row for row in after if row not in before] == [line]
    assert len(after) == len(before)


def test_a_list_over_several_lines_is_one_value() -> None:
    made = edited(FULL, ("form",), ["B", "A", "A"])
    assert 'form = ["B", "A", "A"]\n[sections]' in made
    assert tomllib.loads(made)["form"] == ["B", "A", "A"]


def test_what_is_new_comes_where_files_have_it() -> None:
    made = edited(FULL, ("tempo",), 92.5)
    assert 'meter = """4/4"""\ntempo = 92.5\nform' in made
    assert edited(SMALL, ("shapes", "G7"), "0 0 0 1").endswith(
        '| C | F | G7 | C |"\n\n[shapes]\nG7 = "0 0 0 1"\n'
    )
    assert edited(FULL, ("shapes", "Bb/F"), "0 3 3 1").endswith('# as taught\n"Bb/F" = "0 3 3 1"\n')
    assert edited("# only a remark", ("title",), "T") == 'title = "T"\n# only a remark'


def test_a_line_is_taken_out_with_its_remark() -> None:
    made = edited(FULL, ("form",), None)
    assert made == FULL.replace('form = [ "A", # first\n  "B" ]\n', "")
    assert edited(FULL, ("composer",), None) == FULL
    # The last pin leaves an empty table, which a tune may have.
    bare = edited(edited(SMALL, ("shapes", "G7"), "0 0 0 1"), ("shapes", "G7"), None)
    assert parse_tune(bare, "bare.toml").pins == ()


@pytest.mark.parametrize(
    ("text", "path", "value"),
    [
        ("a = {b = 1}\n", ("a", "c"), "x"),  # TOML 1.0: an inline table is closed
        ("shapes = 1\n", ("shapes", "C"), "0 0 2 3"),
        ("shapes.C7 = '0 0 2 1'\n[sections]\nA = '| C |'\n", ("shapes",), "x"),
        ("title = \n", ("title",), "x"),
    ],
)
def test_what_cannot_be_done_is_told_and_not_tried(
    text: str, path: tuple[str, ...], value: str
) -> None:
    with pytest.raises(InputError):
        edited(text, path, value)


@given(
    st.sampled_from(sorted(EXAMPLES.glob("*.toml"))),
    st.sampled_from(["title", "composer", "key", "tempo", "style"]),
    st.text(max_size=30) | st.integers(-9, 10**6) | st.floats(-1e6, 1e6) | st.none(),
)
def test_any_value_in_any_example_is_that_value_and_nothing_else(path, name, value) -> None:
    text = path.read_text(encoding="utf-8")
    try:
        made = edited(text, (name,), value)
    except InputError:
        assert isinstance(value, str)
        assert any(0xD800 <= ord(sign) < 0xE000 for sign in value)
        return
    wanted = tomllib.loads(text)
    wanted.pop(name, None)
    if value is not None:
        wanted[name] = value
    assert tomllib.loads(made) == wanted
    remarks = [line for line in text.splitlines() if line.startswith("#")]
    assert [line for line in made.splitlines() if line.startswith("#")] == remarks
