"""Bars in the order they are played."""

from fractions import Fraction

from accomp.tune import parse_tune, unfold

TEXT = """title = "T"
key = "F"
meter = "4/4"
tempo = 100
style = "plain-four-four"
form = ["A", "B", "A"]
[sections]
A = "| F | C7 |"
B = { bars = "| Bb | F | C7 |", key = "Bb", meter = "3/4", style = "waltz" }
[[chorus]]
[[chorus]]
style = "two-beat"
"""


def test_sections_come_in_the_order_of_the_form():
    bars = unfold(parse_tune(TEXT, ""), 3)
    assert [bar.number for bar in bars] == list(range(1, 22))
    assert [bar.chorus for bar in bars] == [1] * 7 + [2] * 7 + [3] * 7
    assert [bar.section for bar in bars[:7]] == list("AABBBAA")
    assert [bar.section_bar for bar in bars[:7]] == [0, 1, 0, 1, 2, 0, 1]
    assert [bar.opens for bar in bars[:7]] == [True, False, True, False, False, True, False]
    assert [str(bar.key) for bar in bars[:7]] == ["F", "F", "Bb", "Bb", "Bb", "F", "F"]


def test_time_runs_on_through_meters_and_choruses():
    bars = unfold(parse_tune(TEXT, ""), 2)
    lengths = [Fraction(1)] * 2 + [Fraction(3, 4)] * 3 + [Fraction(1)] * 2
    starts = [sum(lengths[:at], Fraction(0)) for at in range(7)]
    whole = sum(lengths, Fraction(0))
    assert [bar.start for bar in bars] == starts + [whole + start for start in starts]


def test_a_chorus_style_wins_over_the_sections_and_that_over_the_tunes():
    bars = unfold(parse_tune(TEXT, ""), 3)
    plain, waltz = "plain-four-four", "waltz"
    assert [bar.style for bar in bars[:7]] == [plain, plain, waltz, waltz, waltz, plain, plain]
    assert {bar.style for bar in bars[7:14]} == {"two-beat"}
    assert [bar.style for bar in bars[14:]] == [bar.style for bar in bars[:7]]


def test_no_chorus_is_no_bar():
    assert unfold(parse_tune(TEXT, ""), 0) == ()
