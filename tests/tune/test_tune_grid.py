"""Bars and tokens: how many a bar may hold, what they share, and what is said when it is wrong.

The table of token counts is the one of the tune file's description, written out again here.
"""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from accomp.errors import InputError
from accomp.tune import parse_tune

COUNTS = {
    "2/2": (1, 2, 4),
    "2/4": (1, 2, 4),
    "3/2": (1, 3, 6),
    "3/4": (1, 3, 6),
    "4/4": (1, 2, 4, 8),
    "5/4": (1, 5, 10),
    "6/4": (1, 2, 3, 6, 12),
    "3/8": (1, 3),
    "6/8": (1, 2, 6),
    "9/8": (1, 3, 9),
    "12/8": (1, 2, 4, 12),
}
SYMBOLS = ["C", "F#m7", "B♭°7", "G7/B", "Am7b5", "D+", "Ebmaj7"]


def text_of(meter, bars, form=""):
    return (
        f'title = "T"\nkey = "C"\nmeter = "{meter}"\ntempo = 100\n{form}\n[sections]\nA = """\n'
        f'{bars}\n"""\n'
    )


def spans_of(meter, bars):
    """(symbol or None, start, end, written) of every chord, bar by bar."""
    tune = parse_tune(text_of(meter, bars), "t.toml")
    return [
        [
            (span.chord and span.chord.symbol, span.span.start, span.span.end, span.written)
            for span in bar.chords
        ]
        for bar in tune.sections["A"].bars
    ]


def problem_of(meter, bars):
    with pytest.raises(InputError) as caught:
        parse_tune(text_of(meter, bars), "t.toml")
    (problem,) = caught.value.problems
    return problem


@pytest.mark.parametrize("count", range(1, 14))
@pytest.mark.parametrize("meter", COUNTS)
def test_a_bar_holds_these_counts_and_no_others(meter, count):
    bar = f"| {' '.join('CD'[at % 2] for at in range(count))} |"
    upper, lower = map(int, meter.split("/"))
    if count in COUNTS[meter]:
        share = Fraction(upper, lower) / count
        (spans,) = spans_of(meter, bar)
        assert spans == [("CD"[at % 2], at * share, (at + 1) * share, True) for at in range(count)]
    else:
        problem = problem_of(meter, bar)
        assert (problem.line, problem.column) == (8, 3)
        assert problem.found == bar[2:-2]
        for fits in COUNTS[meter]:
            assert str(fits) in problem.expected


@given(st.sampled_from(sorted(COUNTS)), st.data())
def test_every_token_lasts_its_share_and_slash_goes_on(meter, data):
    tokens = st.sampled_from([*SYMBOLS, "/", "/", "N.C."])
    bars = [
        data.draw(st.lists(tokens, min_size=count, max_size=count))
        for count in data.draw(st.lists(st.sampled_from(COUNTS[meter]), min_size=1, max_size=5))
    ]
    if bars[0][0] == "/":
        bars[0][0] = "C"
    got = spans_of(meter, "".join(f"|{' '.join(bar)}" for bar in bars) + "|")
    upper, lower = map(int, meter.split("/"))
    sounding = None
    for bar, spans in zip(bars, got, strict=True):
        share = Fraction(upper, lower) / len(bar)
        assert spans[0][1] == 0
        assert spans[-1][2] == Fraction(upper, lower)
        assert all(one[2] == two[1] for one, two in pairwise(spans))
        for at, token in enumerate(bar):
            sounding = sounding if token == "/" else token
            middle = (at + Fraction(1, 2)) * share
            (span,) = [span for span in spans if span[1] <= middle < span[2]]
            assert span[0] == (None if sounding == "N.C." else sounding)
            assert (span[1] == at * share) == (token != "/" or at == 0)
        assert [span[3] for span in spans] == [bar[0] != "/", *[True] * (len(spans) - 1)]


def test_three_beats_and_one():
    (spans,) = spans_of("4/4", "| A / / G7 |")
    assert spans == [("A", 0, Fraction(3, 4), True), ("G7", Fraction(3, 4), 1, True)]


def test_the_same_chord_written_twice_stays_twice():
    (spans,) = spans_of("4/4", "| F F |")
    assert [span[0] for span in spans] == ["F", "F"]


def test_a_chord_carried_over_the_bar_line_is_not_written_again():
    assert spans_of("4/4", "| F / / G7 | / / C / | / |") == [
        [("F", 0, Fraction(3, 4), True), ("G7", Fraction(3, 4), 1, True)],
        [("G7", 0, Fraction(1, 2), False), ("C", Fraction(1, 2), 1, True)],
        [("C", 0, 1, False)],
    ]


def test_silence_goes_on_like_a_chord():
    assert spans_of("4/4", "| F N.C. / / | / |")[1] == [(None, 0, 1, False)]


@pytest.mark.parametrize(
    ("meter", "bar", "ways"),
    [
        ("3/4", "A G7", ["A / G7", "A G7 /"]),
        ("4/4", "A B C", ["A / B C", "A B C /"]),
        ("4/4", "A / G7", ["A / / G7", "A / G7 /"]),
        ("5/4", "A B", ["A / / B /", "A / B / /"]),
        ("6/8", "A B C", ["A / B / C /"]),
        ("9/8", "A B", ["A / B", "A B /"]),
        ("2/4", "A B C", ["A / B C", "A B C /"]),
        ("3/8", "A B", ["A / B", "A B /"]),
    ],
)
def test_the_remedy_for_a_wrong_count_is_itself_right(meter, bar, ways):
    problem = problem_of(meter, f"| {bar} |")
    assert problem.hint == f"Write {' or '.join(repr(way) for way in ways)}."
    for way in ways:
        assert spans_of(meter, f"| {way} |")


def test_too_many_tokens_are_sent_to_more_bars():
    problem = problem_of("3/8", "| A B C D |")
    assert "at most 3" in problem.hint
    assert "3/8" in problem.message


def test_line_ends_and_spaces_do_not_matter():
    loose = "\n  | F|C7   |\t\n\n|  G7  \t|C|\n"
    assert spans_of("4/4", loose) == spans_of("4/4", "| F | C7 | G7 | C |")


@pytest.mark.parametrize(
    ("bars", "place", "found", "message", "hint"),
    [
        ("| F | | C |", (8, 5), "| |", "nothing in this bar", "silence | N.C. |"),
        ("| F || C |", (8, 5), "||", "nothing in this bar", "double bar line a single |"),
        ("|  |", (8, 1), "|  |", "nothing in this bar", "N.C."),
        ("| F | C7", (8, 7), "C7", "not closed", "begins and ends with |"),
        ("| F | C7\n| F |", (8, 7), "C7", "not closed", "begins and ends with |"),
        ("F | C7 |", (8, 1), "F", "outside the bars", "begins and ends with |"),
        ("  Intro: | F | C7 |", (8, 3), "Intro:", "outside the bars", "begins and ends"),
        ("| F |\n C7", (9, 2), "C7", "outside the bars", "begins and ends with |"),
        ("# remark\n| F |", (8, 1), "# remark", "outside the bars", "outside the quotes"),
        ("| F | # remark", (8, 7), "# remark", "not closed", "begins and ends with |"),
    ],
)
def test_bars_that_are_not_well_made(bars, place, found, message, hint):
    with pytest.raises(InputError) as caught:
        parse_tune(text_of("4/4", bars), "t.toml")
    problem = caught.value.problems[0]
    assert (problem.line, problem.column) == place
    assert problem.found == found
    assert message in problem.message
    assert hint in problem.hint


@pytest.mark.parametrize(
    ("token", "hint"),
    [
        ("N.C", "Did you mean 'N.C.'?"),
        ("NC", "Did you mean 'N.C.'?"),
        ("n.c.", "Did you mean 'N.C.'?"),
        ("F/", "Did you mean 'F /', with a space?"),
        ("//", "Put a space after each /."),
        ("/G7", "Put a space after each /."),
        ("𝄎", "write % alone in a bar"),
        ("F:C7", "Repeats are written at bar lines"),
        ("x3", "stands after its repeat"),
        ("-", "To let a chord go on write /."),
    ],
)
def test_tokens_that_are_nearly_right(token, hint):
    problem = problem_of("4/4", f"| F | {token} |")
    assert (problem.line, problem.column, problem.found) == (8, 7, token)
    assert hint in problem.hint


def test_the_place_of_a_chord_is_its_first_character():
    tune = parse_tune(text_of("4/4", "| F | B♭ C7 |"), "t.toml")
    bar = tune.sections["A"].bars[1]
    assert [(span.line, span.column) for span in bar.chords] == [(8, 7), (8, 10)]
    assert (bar.line, bar.column) == (8, 7)


@pytest.mark.slow
def test_more_than_two_thousand_bars_are_too_many():
    assert len(spans_of("4/4", "| F " * 2000 + "|")) == 2000
    problem = problem_of("4/4", "| F " * 2001 + "|")
    assert "more than 2000 bars" in problem.message
    assert (problem.line, problem.column) == (8, 2000 * 4 + 3)


def test_every_bar_knows_where_it_is_written():
    text = text_of("4/4", "| C | % |\n  | % | G7 |")
    bars = parse_tune(text, "t.toml").sections["A"].bars
    written = [text.splitlines()[bar.line - 1][bar.column - 1 :].split()[0] for bar in bars]
    assert written == ["C", "%", "%", "G7"]
