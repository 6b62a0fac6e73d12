"""A tune written and read again is the same tune."""

import tomllib
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest
from drawn import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from made_tunes import KEYS, tune_texts

from accomp.harmony import Key, parse_chord
from accomp.time import Meter, Span
from accomp.tune import Bar, ChordSpan, parse_tune, read_tune, transpose_tune, tune_toml
from accomp.tune.write import bar_tokens

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))


@settings(max_examples=examples(80))
@given(tune_texts())
def test_writing_and_reading_gives_the_tune_back(text):
    tune = parse_tune(text, "made.toml")
    written = tune_toml(tune)
    again = parse_tune(written, "again.toml")
    assert again == tune
    assert list(again.sections) == list(tune.sections)
    assert tune_toml(again) == written
    data = tomllib.loads(text)
    assert again.title == data["title"]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_examples_come_back(path):
    tune = read_tune(path)
    assert parse_tune(tune_toml(tune), "") == tune


@settings(max_examples=examples(50))
@given(tune_texts(), st.data())
def test_a_transposed_tune_can_be_written(text, data):
    tune = parse_tune(text, "made.toml")
    key = Key.parse(data.draw(st.sampled_from(KEYS[tune.key.minor])))
    moved = transpose_tune(tune, key)
    assert parse_tune(tune_toml(moved), "") == moved


def test_bars_stand_four_to_a_line_one_under_the_other_in_fewest_tokens():
    bars = "| F / / / | C7 / G7 / | C / / Dm | / / | Bb | F |"
    text = f'title = "T"\nkey = "F"\nmeter = "4/4"\ntempo = 120.0\n[sections]\nA = "{bars}"\n'
    assert tune_toml(parse_tune(text, "")) == (
        'title = "T"\n'
        'key = "F"\n'
        'meter = "4/4"\n'
        "tempo = 120\n"
        'instrument = "tenor-banjo"\n'
        'form = ["A"]\n'
        "\n"
        "[sections]\n"
        'A = """\n'
        "| F  | C7 G7 | C / / Dm | / |\n"
        "| Bb | F     |\n"
        '"""\n'
    )


def test_a_section_that_starts_with_what_came_before():
    text = """title = "T"
key = "F"
meter = "4/4"
tempo = 120
form = ["A", "B", "B"]
[sections]
A = "| F | Bb C7 |"
B = "| / / F / | / | C7 |"
"""
    tune = parse_tune(text, "")
    assert parse_tune(tune_toml(tune), "") == tune
    assert "| / F | / | C7 |" in tune_toml(tune)


def spans(*starts, end):
    edges = [*starts, end]
    return Bar(
        tuple(
            ChordSpan(parse_chord("C"), Span(Fraction(one), Fraction(two)))
            for one, two in pairwise(edges)
        )
    )


def test_a_bar_that_no_tokens_hold_is_refused():
    with pytest.raises(ValueError, match="4/4 has no tokens for chords at 0, 1/3"):
        bar_tokens(spans(0, "1/3", end=1), Meter.parse("4/4"))
    tune = read_tune(EXAMPLES[0])
    name, section = next(iter(tune.sections.items()))
    broken = replace(section, bars=(spans(0, "1/3", end=1),))
    with pytest.raises(ValueError, match="no tokens"):
        tune_toml(replace(tune, sections={name: broken}, form=(name,)))


@pytest.mark.parametrize(
    ("meter", "starts", "tokens"),
    [
        ("4/4", ["0"], "C"),
        ("4/4", ["0", "1/2"], "C C"),
        ("4/4", ["0", "3/4"], "C / / C"),
        ("4/4", ["0", "7/8"], "C / / / / / / C"),
        ("3/4", ["0", "1/2"], "C / C"),
        ("6/4", ["0", "1/2"], "C C /"),
        ("6/4", ["0", "3/4"], "C C"),
        ("6/8", ["0", "3/8"], "C C"),
        ("6/8", ["0", "1/4"], "C / C / / /"),
        ("12/8", ["0", "9/8"], "C / / C"),
    ],
)
def test_as_few_tokens_as_hold_the_chords(meter, starts, tokens):
    bar = spans(*starts, end=Meter.parse(meter).bar)
    assert " ".join(bar_tokens(bar, Meter.parse(meter))) == tokens
