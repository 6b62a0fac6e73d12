"""The road map of a tune file: what is played, what is wrong, and that a round trip keeps it.

What is played is worked out by hand; that a first ending is for the first time, a chart's `%` for
the bar before and so on is common practice, no source.
"""

from __future__ import annotations

import json

import pytest
from drawn import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from accomp.errors import InputError
from accomp.harmony import Key
from accomp.tune import parse_tune, planned_bars, transpose_tune, tune_toml, unfold

HEAD = 'title = "T"\nkey = "C"\nmeter = "4/4"\ntempo = 120\n'


def tune(road, sections):
    return parse_tune(f"{HEAD}{road}\n[sections]\n{sections}\n", "t.toml")


def played(found, choruses=1):
    """The roots of the bars' chords."""
    return " ".join(
        "".join(str(item.chord.root) if item.chord else "-" for item in bar.chords)
        for bar in unfold(found, choruses)
    )


A, B = 'A = "| C | F |"', 'B = "| G | A |"'
ENDS = 'A.bars = "| C |"\nA.first = "| D |"\nA.second = "| E |"\nA.last = "| F |"'

PLAYED = [
    ('form = ["2 x A", "B"]\nchoruses = 2', f"{A}\n{B}", 1, "C F C F G A"),
    ('form = ["A", "3 x B"]', f"{A}\n{B}", 3, "C F G A G A G A"),
    ('form = ["A", "3 x B", "A"]', f"{A}\n{B}", 1, "C F G A C F"),
    ('form = ["A", "1 x B"]', f"{A}\n{B}", 3, "C F G A G A G A"),
    ('form = ["A", "1 x B", "2 x A"]', f"{A}\n{B}", 2, "C F G A C F C F C F G A C F C F"),
    ('form = ["A", "3 x B"]\nchoruses = 1', f"{A}\n{B}", 1, "C F G A G A G A"),
    ('verse = "A"\nform = ["B"]', f"{A}\n{B}", 2, "C F G A G A"),
    ('verse = ["A", "A"]\nform = ["B"]\ncoda = "A"', f"{A}\n{B}", 1, "C F C F G A C F"),
    ('intro = "last 1"\nform = ["A", "B"]', f"{A}\n{B}", 2, "A C F G A C F G A"),
    ('intro = "last 3"\nform = ["A", "B"]', f"{A}\n{B}", 1, "F G A C F G A"),
    ('intro = "B"\nform = ["A"]', f"{A}\n{B}", 2, "G A C F C F"),
    # endings: in a form that has the section once, the times through are counted
    ('form = ["A"]', ENDS, 1, "C F"),
    ('form = ["A"]', ENDS, 2, "C D C F"),
    ('form = ["A"]', ENDS, 4, "C D C E C E C F"),
    ('form = ["A", "A", "B", "A"]', f"{ENDS}\n{B}", 1, "C D C E G A C F"),
    ('form = ["A", "A", "B", "A"]', f"{ENDS}\n{B}", 2, "C D C E G A C E C D C E G A C F"),
    ('form = ["A"]', 'A = {bars = "| C |", first = "| D |", second = "| E |"}', 1, "C E"),
    ('form = ["A"]', 'A = {bars = "| C |", first = "| D |", second = "| E |"}', 3, "C D C E C E"),
    # the turnaround before the last time leads into an intro's end, not the last ending
    ('intro = "last 1"\nform = ["A"]', ENDS, 1, "D C F"),
    ('intro = "last 16"\nform = ["A"]', f'A = "{"| C " * 16}|"', 1, " ".join("C" * 32)),
    # the coda
    ('form = ["A", "B"]\ncoda = "K"', f'{A}\n{B}\nK = "| D |"', 2, "C F G A C F G A D"),
    (
        'form = ["A", "B"]\ncoda = "K"',
        f'A = {{ bars = "| C | F |", to_coda = 1 }}\n{B}\nK = "| D |"',
        2,
        "C F G A C D",
    ),
    (
        'form = ["A", "B", "A"]\ncoda = "K"',
        f'A = {{ bars = "| C | F |", to_coda = 1 }}\n{B}\nK = "| D |"',
        1,
        "C F G A C D",
    ),
    # signs in the bars
    ("", 'A = "|: C | F :| G |"', 1, "C F C F G"),
    ("", 'A = "| C |: F :| x 3 | G |"', 1, "C F F F G"),
    ("", 'A = "|:C|F:|3x|:G:|"', 1, "C F C F C F G G"),
    ("", 'A = """\n|: C F | % :|\n|: G | % | / :|\n"""', 1, "CF CF CF CF G G G G G G"),
    ("", 'A = { bars = "| C F |", first = "| % | G |", last = "| % |" }', 2, "CF CF G CF CF"),
    (
        'form = ["A"]\ncoda = "K"',
        'A = { bars = "|: C | F :| G |", to_coda = 1 }\nK = "| D |"',
        1,
        "C F C D",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("road", "sections", "choruses", "bars"), PLAYED)
def test_what_is_played(road, sections, choruses, bars):
    assert played(tune(road, sections), choruses) == bars


@pytest.mark.parametrize(("road", "sections", "choruses", "bars"), PLAYED)
def test_a_round_trip_keeps_it(road, sections, choruses, bars):
    found = tune(road, sections)
    again = parse_tune(tune_toml(found), "again.toml")
    assert again == found
    assert played(again, choruses) == bars
    moved = transpose_tune(found, Key.parse("D"))
    assert parse_tune(tune_toml(moved), "") == moved
    assert len(unfold(moved, choruses)) == len(bars.split())


def test_what_repeats_are_written_as():
    text = tune_toml(tune('form = ["V", "3 x A"]', f'V = "|: C F | % :| x 3 | G |"\n{ENDS}'))
    assert 'form = ["V", "3 x A"]' in text
    assert "|: C F | % :| x 3 | G |" in text
    assert 'A.second = "| E |"' in text


@pytest.mark.parametrize(
    ("road", "sections", "most"),
    [
        ('form = ["A"]', ENDS, 3),
        ('form = ["A", "A"]', ENDS, 2),
        ('form = ["A"]', A, 1),
        ('form = ["A"]\ncoda = "B"', f'A = {{ bars = "| C | F |", to_coda = 1 }}\n{B}', 2),
    ],
)
def test_every_bar_is_planned(road, sections, most):
    """As many times through as it takes, no more, and each bar of any performance among them."""
    found = tune(road, sections)
    planned = planned_bars(found)
    assert planned == unfold(found, most)
    spots = {bar.spot for bar in planned}
    for choruses in range(1, 7):
        assert {bar.spot for bar in unfold(found, choruses)} <= spots


# What is wrong: road, sections, (line, column), found, parts of message and hint. Line 5 is the
# first of the road, line 7 the first of the sections, but where the road has two lines.
WRONG = [
    ("", 'A = "| C :| F |"', (7, 10), ":|", "no |: begins it", "Write |: where it begins"),
    ("", 'A = "|: C | F |"', (7, 9), "|:", "no :| ends it", "Write :| where it ends"),
    ("", 'A = "|: C |: F :|"', (7, 9), "|:", "no :| ends it", "No repeat stands inside"),
    ("", 'A = "| % | C |"', (7, 8), "%", "nothing stands before it", "Write the chords"),
    ("", 'A = "| C % |"', (7, 10), "%", "", "write % alone in a bar"),
    ("", 'A = "|: C :| x 10000 |"', (7, 14), "x 10000", "this says 10000", "from 2 to 100"),
    ("", 'A = "|: C :| x 1 |"', (7, 14), "x 1", "2 to 100 times", "from 2 to 100"),
    ("", 'A = "|: / | C :|"', (7, 9), "/", "the tune starts with /", "Write the chord"),
    ("", 'A = "| C |: / | F :|"', (7, 13), "/", "comes to it from C and F", "Write the chord"),
    (
        'form = ["10000 x A"]', A, (5, 9), "10000 x A",
        "this asks for 'A' 10000 times", 'comes 1 to 100 times: "100 x A"',
    ),
    ('form = ["0 x A"]', A, (5, 9), "0 x A", "'A' 0 times", '"1 x A"'),
    ('form = ["3 x Q"]', A, (5, 9), "3 x Q", "one of A", "Sections here are: A"),
    ('form = ["A", "D.S."]', A, (5, 14), "D.S.", "one of A", "Name the sections again"),
    ('form = ["A", "D.C. al Coda"]', A, (5, 14), "D.C. al Coda", "", "Name the sections again"),
    ('intro = "last 17"', A, (5, 9), "last 17", "", "1 to 16 bars"),
    ('intro = "first 4"', A, (5, 9), "first 4", '"last 4"', ""),
    ('coda = "K"', A, (5, 8), "K", "one of A", ""),
    ("choruses = 10000", A, (5, 12), "10000", "from 1 to 100", "nearest is 100"),
    ('form = ["A"]', f'{A}\nCoda = "| C |"', (8, 1), "Coda", "nothing goes to it", 'coda = "Coda"'),
    ('form = ["A"]', f'{A}\nCodda = "| C |"', (8, 1), "Codda", "nothing goes", 'coda = "Codda"'),
    (
        "", 'A = { bars = "| C |", first = "| F |" }', (7, 23), "first",
        "a first ending and no other", "or put its bars at the end",
    ),
    (
        "", 'A = { bars = "| C | F |", last = "| G |" }', (7, 27), "last",
        "an ending for the last time and no first one", "Move the bars that it replaces",
    ),
    (
        'verse = "A"\nform = ["B"]',
        f'A = {{ bars = "| C |", first = "| F |", last = "| G |" }}\n{B}',
        (8, 40), "last", "comes once, and has 2 endings", "name the section once more",
    ),
    (
        'form = ["A", "B", "A"]', f'{ENDS}\nA.third = "| A |"\n{B}', (11, 3), "third",
        "comes 2 times, and has 3 endings", "Take out what is never played",
    ),
    (
        "", 'A = { bars = "| C |", first = "|: F :|", last = "| G |" }', (7, 35), "|:",
        "a repeat cannot stand in an ending", "Write the bars out",
    ),
    (
        "", 'A = { bars = "| C | F |", to_coda = 1 }', (7, 37), "to_coda = 1",
        "goes to a coda, and there is none", "Name the section that is the coda",
    ),
    (
        'form = ["B"]\ncoda = "A"', f'A = {{ bars = "| C |", to_coda = 1 }}\n{B}', (8, 33),
        "to_coda = 1", "is not in the form", "Write it into the section that is left",
    ),
    (
        'form = ["A", "B"]\ncoda = "K"',
        'A = { bars = "| C |", to_coda = 1 }\nB = { bars = "| C |", to_coda = 1 }\nK = "| C |"',
        (9, 33), "B", "is in section 'A' already", "Take one of them out",
    ),
    (
        'coda = "B"', f"{ENDS}\nA.to_coda = 1\n{B}", (10, 3), "last",
        "is left for the coda before it comes to that", "Take `to_coda` out",
    ),
    (
        "", 'A = { bars = "| C |", to_coda = 2 }', (7, 33), "2", "from 1 to 1", "nearest is 1",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("road", "sections", "place", "found", "message", "hint"), WRONG)
def test_what_is_wrong(road, sections, place, found, message, hint):
    with pytest.raises(InputError) as error:
        tune(road, sections)
    told = [(p.line, p.column, p.found) for p in error.value.problems]
    assert (*place, found) in told
    problem = error.value.problems[told.index((*place, found))]
    assert message in problem.message
    assert hint in problem.hint
    assert len(set(told)) == len(told)  # one mistake is told once


def test_a_coda_of_the_form_is_said():
    """It may be meant (A B A B and A to end with), and may be a slip: it is played, and said."""
    found = tune('form = ["A", "B"]\ncoda = "A"', f"{A}\n{B}")
    assert played(found, 2) == "C F G A C F G A C F"
    assert "The coda 'A' is in the form too, and is played once more at the end." in found.notices


@pytest.mark.slow
@pytest.mark.parametrize(
    ("road", "sections"),
    [
        ("form = [" + '"100 x A", ' * 3000 + "]", A),  # 300,000 sections
        ("", 'A = "' + "|: C :| x 100 " * 100 + '|"'),  # 10,000 bars
        ('verse = "A"\nform = ["A"]', f'A = "{"| C " * 1500}|"'),
    ],
    ids=["form", "repeats", "verse and form"],
)
def test_size_is_bounded(road, sections):
    with pytest.raises(InputError, match="longer than 2000 bars"):
        tune(road, sections)


def test_sections_may_have_the_names_of_keys():
    found = tune(
        'coda = "coda"\nverse = "verse"\nform = ["chorus"]',
        'verse = { bars = "| C |" }\nchorus = "| F |"\ncoda = "| G |"',
    )
    assert played(found) == "C F G"


bar = st.sampled_from(["C", "F", "G7", "C F", "% ", "/ G"])


@st.composite
def roads(draw):
    """A good tune with a road map, as text."""
    bars = st.lists(bar, min_size=1, max_size=3).map(lambda rows: f"| C | {' | '.join(rows)} |")
    repeated = bars.map(lambda text: f"|: {text[2:-2]} :| x {draw(st.integers(2, 4))} |")
    sections = []
    for name in "ABK":
        text = draw(bars | repeated)
        extra = {"bars": text}
        if name != "K" and draw(st.booleans()):
            extra |= {"first": draw(bars), "last": draw(bars)}
        if name == "B" and draw(st.booleans()):
            extra["to_coda"] = 1
            if "last" in extra:  # which would never come
                extra["second"] = extra.pop("last")
        rows = ", ".join(f"{key} = {json.dumps(value)}" for key, value in extra.items())
        sections.append(f"{name} = {{ {rows} }}")
    form = draw(st.sampled_from([["A", "B"], ["2 x A", "B"], ["A", "3 x B"], ["A", "B", "A"]]))
    lines = [f"form = {json.dumps(form)}", 'coda = "K"']
    if draw(st.booleans()):
        lines.append(f"choruses = {draw(st.integers(2, 4))}")
        lines.append(f'intro = "last {draw(st.integers(1, 4))}"')
    return "\n".join(lines), "\n".join(sections)


@settings(max_examples=examples(60))
@given(roads(), st.integers(1, 5))
def test_any_road_map_comes_back_and_its_bars_are_planned(made, choruses):
    try:
        found = tune(*made)
    except InputError as error:
        told = [problem.message for problem in error.problems]
        known = ("endings", "is not in the form", "carries", "starts with /")
        strange = [message for message in told if not any(word in message for word in known)]
    else:
        strange = []
        assert parse_tune(tune_toml(found), "") == found
        bars = unfold(found, choruses)
        assert {one.spot for one in bars} <= {one.spot for one in planned_bars(found)}
        assert [one.number for one in bars] == list(range(1, len(bars) + 1))
    assert strange == []
