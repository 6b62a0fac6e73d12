"""What is shown of a style can be written into a file as it is."""

from dataclasses import replace

import pytest

from accomp.files.table import Table
from accomp.files.toml import parse_toml
from accomp.rhythm import describe_style, find_style, style_names
from accomp.rhythm.describe import count_word, describe_strum
from accomp.rhythm.read_parts import read_strum
from accomp.rhythm.style import Ending


@pytest.mark.parametrize("name", style_names())
def test_a_shown_pattern_reads_back_the_same(name):
    style = find_style(name)
    for pattern in style.strums:
        rows = [line.split(maxsplit=1) for line in describe_strum(pattern, style.meter)]
        text = "\n".join(
            f"{key} = {words}" if key == "length" else f'{key} = "{words}"' for key, words in rows
        )
        table = Table.of(parse_toml(f"{text}\n", "shown.toml"))
        assert read_strum(table, style.meter) == pattern
        table.check()


def test_the_count_stands_over_the_strokes():
    lines = describe_style(find_style("four-light-heavy"))
    count = next(line for line in lines if line.split()[:1] == ["count"])
    stroke = next(line for line in lines if line.split()[:1] == ["stroke"])
    assert count.split() == ["count", "1", "2", "3", "4"]
    starts = [index for index, sign in enumerate(count) if sign.isdigit()]
    assert all(stroke[index] != " " == stroke[index - 1] for index in starts)


@pytest.mark.parametrize(
    ("ending", "said"),
    [
        (Ending(), []),
        (Ending(tag=1), ["Ending: the last four bars once more"]),
        (
            Ending(tag=2, ritard=1, slow_to=0.6),
            [
                "Ending: the last four bars 2 times more, "
                "slowing over the last bar to 60% of the tempo"
            ],
        ),
        (
            Ending(ritard=2, slow_to=0.7),
            ["Ending: slowing over the last 2 bars to 70% of the tempo"],
        ),
        (find_style("flat-four").ending, ["Ending: the last bar"]),
    ],
)
def test_an_ending_is_said_where_there_is_one(ending, said):
    lines = describe_style(replace(find_style("flat-four"), ending=ending))
    assert [line for line in lines if line.startswith("Ending")] == said


def test_places_are_said_as_players_say_them():
    from fractions import Fraction

    from accomp.time import Meter

    four, six = Meter.parse("4/4"), Meter.parse("6/8")
    said = [count_word(Fraction(n, 16), four) for n in range(5)]
    assert said == ["1", "e", "&", "a", "2"]
    assert count_word(Fraction(1, 12), four) == "trip"
    assert count_word(Fraction(5, 8), six) == "6"
