"""What is wrong in a tune file: line, column, found text, expectation and remedy of each error.

Every case changes one line of a good file; lines and columns are counted by hand.
"""

import pytest

from accomp.errors import InputError
from accomp.tune import parse_tune, read_tune

LINES = [
    'title = "T"',  # line 1
    'key = "F"',
    'meter = "4/4"',
    "tempo = 120",
    'form = ["A", "B"]',  # line 5
    "[sections]",
    'A = "| F | C7 |"',
    'B = { bars = "| Bb | F |", key = "Bb" }',
    "[[chorus]]",
    'position = "root-top"',  # line 10
]

# (line to change, its new text, column, found, part of the message, part of expected, part of hint)
CASES = [
    # titles and other texts
    (1, "", (1, 1), "", "'title' is missing", "a text in quotes", 'Add a line title = "A Name"'),
    (
        1,
        'title = ""',
        (1, 9),
        "''",
        "'title' must be a text in quotes, and this is empty",
        "a text",
        "Write title =",
    ),
    (
        1,
        "title = '  '",
        (1, 9),
        "'  '",
        "'title' must be a text in quotes, and this is empty",
        "a text",
        "Write title =",
    ),
    (
        1,
        "title = 5",
        (1, 9),
        "5",
        "must be a text in quotes, and this is 5.",
        "text",
        "Write title =",
    ),
    (1, 'title = ["T"]', (1, 9), "[...]", "this is a list", "a text in quotes", ""),
    (
        1,
        'title = "a\\u0007b"',
        (1, 11),
        "U+0007",
        "holds the control character",
        "a text",
        "Take it out",
    ),
    (
        1,
        'title = """a\nb"""',
        (1, 13),
        "U+000A",
        "holds the control character",
        "a text",
        "Take it out",
    ),
    (
        1,
        'title = "a\\u2028b"',
        (1, 11),
        "U+2028",
        "holds the control character",
        "a text",
        "Take it out",
    ),
    (
        1,
        f'title = "{"x" * 1001}"',
        (1, 9),
        "x" * 57 + "...",
        "has 1001 characters",
        "a text",
        "Shorten it to 1000",
    ),
    (1, 'title = "T"\ncomposer = 1', (2, 12), "1", "'composer' must be", "a text", ""),
    (
        1,
        'title = "T"\nstyle = ""',
        (2, 9),
        "''",
        "'style' must be a text in quotes, and this is empty",
        "a text",
        "Write style =",
    ),
    (1, 'title = "T"\ninstrument = 4', (2, 14), "4", "'instrument' must be", "a text", ""),
    (1, 'title = "T"\ninstrument = true', (2, 14), "true", "and this is true.", "a text", ""),
    # keys
    (2, "", (1, 1), "", "'key' is missing", "key", 'Add a line key = "F"'),
    (
        2,
        'key = "H"',
        (2, 7),
        "H",
        "signs in quotes, as F, Bb, F# or Dm, and this is 'H'",
        "F, Bb, F# or Dm",
        "",
    ),
    (
        2,
        'key = "bb"',
        (2, 7),
        "bb",
        "signs in quotes, as F, Bb, F# or Dm, and this is 'bb'",
        "F, Bb, F# or Dm",
        "'Bb'",
    ),
    (2, 'key = "F "', (2, 7), "F ", "and this is 'F '", "F, Bb, F# or Dm", "'F'"),
    (
        2,
        'key = "D#"',
        (2, 7),
        "D#",
        "a key of up to seven signs",
        "F, Bb, F# or Dm",
        "Write Eb, wh",
    ),
    (2, 'key = "Gbm"', (2, 7), "Gbm", "and this is 'Gbm'", "", "Write F#m, which sounds the same"),
    (2, 'key = "B#"', (2, 7), "B#", "and this is 'B#'", "", "Write C, which sounds the same"),
    (2, 'key = ""', (2, 7), "", "and this is ''", "F, Bb, F# or Dm", ""),
    (2, "key = 1", (2, 7), "1", "'key' must be a key", "in quotes", ""),
    # meters
    (3, "", (1, 1), "", "'meter' is missing", "meter", 'Add a line meter = "4/4"'),
    (3, 'meter = "7/8"', (3, 9), "7/8", "and this is '7/8'", "one of 2/2", "Choose one"),
    (3, 'meter = "44"', (3, 9), "44", "and this is '44'", "one of 2/2", "Did you mean '4/4'"),
    (3, 'meter = "C"', (3, 9), "C", "and this is 'C'", "one of 2/2", "Write meter = "),
    (3, "meter = 4.4", (3, 9), "4.4", "'meter' must be a meter in quotes", "a meter", ""),
    (3, 'meter = "4/4"\nshapes = true', (4, 10), "true", "'shapes'", "[shapes]", ""),
    (3, 'meter = "4/4"\ntop = 3', (4, 7), "3", "'top'", "[top]", ""),
    # tempi
    (4, "", (1, 1), "", "'tempo' is missing", "20 to 400", "Add a line tempo = 120"),
    (
        4,
        "tempo = 0",
        (4, 9),
        "0",
        "a minute from 20 to 400, and this is 0.",
        "20 to 400",
        "The nearest is 20.",
    ),
    (
        4,
        "tempo = 10_000",
        (4, 9),
        "10000",
        "a minute from 20 to 400, and this is 10000.",
        "20 to 400",
        "The nearest is 400.",
    ),
    (
        4,
        "tempo = -120",
        (4, 9),
        "-120",
        "a minute from 20 to 400, and this is -120.",
        "20 to 400",
        "The nearest is 20.",
    ),
    (
        4,
        "tempo = nan",
        (4, 9),
        "nan",
        "a minute from 20 to 400, and this is nan.",
        "20 to 400",
        "Write tempo = 120.",
    ),
    (
        4,
        "tempo = inf",
        (4, 9),
        "inf",
        "a minute from 20 to 400, and this is inf.",
        "20 to 400",
        "Write tempo = 120.",
    ),
    (
        4,
        "tempo = -inf",
        (4, 9),
        "-inf",
        "a minute from 20 to 400, and this is -inf.",
        "20 to 400",
        "Write tempo = 120.",
    ),
    (
        4,
        f"tempo = 1{'0' * 400}",
        (4, 9),
        "very many digits",
        "and this is a number of",
        "20 to 400",
        "",
    ),
    (4, "tempo = true", (4, 9), "true", "and this is true.", "number of beats", ""),
    (4, 'tempo = "120"', (4, 9), "120", "and this is '120'", "number of beats", "without quotes"),
    (4, "tempo = 2020-01-01", (4, 9), "2020-01-01", "and this is 2020", "number of beats", ""),
    # the form
    (5, "form = []", (5, 8), "[]", "and this is empty", "a list, each a section", "Write form"),
    (
        5,
        'form = "A A B"',
        (5, 8),
        "A A B",
        "'form' must be a list, each a section in quotes, one of A, B, and this is 'A A B'",
        "a list",
        "Write form",
    ),
    (5, "form = { A = 1 }", (5, 8), "{...}", "this is a table", "a list", ""),
    (5, 'form = ["A", 2]', (5, 14), "2", "and this is 2", "a section in quotes", ""),
    (
        5,
        'form = ["A", "BB"]',
        (5, 14),
        "BB",
        "each of 'form' must be a section in quotes, one of A, B, and this is 'BB'",
        "one of A, B",
        "mean 'B'",
    ),
    (
        5,
        'form = ["A", "zzz"]',
        (5, 14),
        "zzz",
        "and this is 'zzz'",
        "one of A, B",
        "here are: A, B",
    ),
    (5, 'from = ["A"]', (5, 1), "from", "'from' is not known here", "form", "Did you mean 'form'"),
    (5, 'Form = ["A"]', (5, 1), "Form", "'Form' is not known here", "form", "Did you mean 'form'"),
    (6, "[sections]\nform = ['A']", (7, 1), "form", "stands inside [sections]", "before", "Move"),
    (6, "[sections]\ntempo = 90", (7, 1), "tempo", "stands inside [sections]", "before", "Move"),
    (6, "[sections]\nstyle = 'x'", (7, 1), "style", "stands inside [sections]", "before", "Move"),
    # sections and their bars
    (7, 'A = "| F | Gm7bb5 |"', (7, 12), "Gm7bb5", "'Gm7bb5' is not a chord symbol", "", "Gm7b5"),
    (7, 'A = "| F | X |"', (7, 12), "X", "'X' is not a chord symbol", "a root", ""),
    (7, 'A = """\n| F |\n\t| C7 | é |"""', (9, 9), "é", "'é' is not a chord symbol", "", ""),
    (7, 'A = "| F | C7 F G |"', (7, 12), "C7 F G", "has 3", "1, 2, 4 or 8", "'C7 / F G'"),
    (7, 'A = "| / | C7 |"', (7, 8), "/", "the tune starts with /", "a chord", "the chord itself"),
    (7, 'A = ""', (7, 5), "", "'A' must be bars in quotes, and this is empty", "bars", "Write A ="),
    (
        7,
        'A = "|"',
        (7, 5),
        "|",
        "'A' must be bars in quotes, and this is empty",
        "bars",
        "Write A =",
    ),
    (7, "A = 4", (7, 5), "4", "'A' must be bars in quotes", "bars in quotes", ""),
    (7, 'A = ["| F |"]', (7, 5), "[...]", "'A' must be bars in quotes", "bars in quotes", ""),
    (
        7,
        'A = { bar = "| F |", bars = "| F |" }',
        (7, 7),
        "bar",
        "not known here",
        "bars",
        "'bars'",
    ),
    (
        7,
        'A = { key = "F" }',
        (7, 5),
        "",
        "'bars' is missing in [sections.A]",
        "bars",
        "Add a line bars =",
    ),
    (7, "A = { bars = 1 }", (7, 14), "1", "'bars' must be bars in quotes", "bars", ""),
    (
        7,
        'A = { bars = "| F |", key = "Q" }',
        (7, 29),
        "Q",
        "signs in quotes, as F, Bb, F# or Dm, and this is 'Q'",
        "Bb",
        "",
    ),
    (
        7,
        'A = { bars = "| F |", meter = "9/4" }',
        (7, 31),
        "9/4",
        "and this is '9/4'",
        "9/8",
        "Choose one",
    ),
    (7, 'A = { bars = "| F C |", meter = "3/4" }', (7, 17), "F C", "bar of 3/4", "1, 3", "'F / C'"),
    (7, 'A = { bars = "| F |", style = [] }', (7, 31), "[]", "'style' must be", "a text", ""),
    (7, 'A = "| F |"\n"" = "| F |"', (8, 1), "", "not a name for a section", "a short", "another"),
    (7, 'A = "| F |"\n"\\t" = "| F |"', (8, 1), "\t", "not a name for a section", "", "another"),
    # choruses
    (9, "[chorus]", (9, 2), "{...}", "'chorus' must be a list of tables", "list", "[[chorus]]"),
    (10, 'posiion = "x"', (10, 1), "posiion", "not known here", "position", "mean 'position'"),
    (10, "position = 5", (10, 12), "5", "'position' must be a text", "a text in quotes", ""),
    (10, 'tempo = "x"', (10, 1), "tempo", "not known here", "position, style", "Known are"),
    # the pickup
    (
        1,
        "title = 'T'\npickup = 4",
        (2, 10),
        "4",
        "less than the 4 of the first bar",
        "4",
        "as a bar",
    ),
    (
        1,
        "title = 'T'\npickup = 9.5",
        (2, 10),
        "9.5",
        "and this is 9.5",
        "less than the 4",
        "as a bar",
    ),
    (1, "title = 'T'\npickup = -1", (2, 10), "-1", "and this is -1", "beats", "Write pickup = 1"),
    (1, "title = 'T'\npickup = 0.33", (2, 10), "0.33", "written in notes", "beats", '"1/3"'),
    (1, "title = 'T'\npickup = nan", (2, 10), "nan", "must be a number of beats", "beats", ""),
    (1, "title = 'T'\npickup = true", (2, 10), "true", "must be a number of beats", "beats", ""),
    (1, "title = 'T'\npickup = '1/0'", (2, 10), "1/0", "must be a number of beats", "", ""),
    (1, "title = 'T'\npickup = '1e99999999'", (2, 10), "1e99999999", "must be", "beats", ""),
    # the melody
    (
        1,
        "title = 'T'\nmelody = '../x.xml'",
        (2, 10),
        "../x.xml",
        "must be the name of a lead sheet beside the tune",
        "beside",
        "",
    ),
    (
        1,
        "title = 'T'\nmelody = 'a\\b.xml'",
        (2, 10),
        "a\\b.xml",
        "must be the name of a lead sheet beside the tune",
        "beside",
        "",
    ),
    (
        1,
        "title = 'T'\nmelody = '.xml'",
        (2, 10),
        ".xml",
        "must be the name of a lead sheet beside the tune",
        "beside",
        "",
    ),
    (
        1,
        "title = 'T'\nmelody = 'x.mid'",
        (2, 10),
        "x.mid",
        "and this is 'x.mid'",
        ".musicxml",
        "ABC",
    ),
    (1, "title = 'T'\nmelody = ['x']", (2, 10), "[...]", "and this is a list", "lead sheet", ""),
    # beginnings and endings
    (
        1,
        'title = "T"\nbegin = "rolloff"',
        (2, 9),
        "rolloff",
        "'begin' must be",
        '"roll-off" or "pick-up" or "vamp"',
        "Did you mean 'roll-off'?",
    ),
    (
        1,
        'title = "T"\nend = "short stop"',
        (2, 7),
        "short stop",
        "'end' must be",
        '"ritard" or "short-stop" or "tag"',
        "Did you mean 'short-stop'?",
    ),
    (1, 'title = "T"\nend = 3', (2, 7), "3", "'end' must be", '"tag"', ""),
    # what is no key at all
    (1, "title = 'T'\ntempoo = 1", (2, 1), "tempoo", "not known here", "tempo", "mean 'tempo'"),
    (1, "title = 'T'\nqqqq = 1", (2, 1), "qqqq", "not known here", "chorus", "Known are: title"),
]


def changed(number, text):
    lines = list(LINES)
    lines[number - 1] = text
    return "\n".join(lines) + "\n"


def problems_of(text):
    with pytest.raises(InputError) as caught:
        parse_tune(text, "t.toml")
    return caught.value.problems


def test_the_file_is_good_before_it_is_changed():
    assert parse_tune("\n".join(LINES), "t.toml").notices == ()


@pytest.mark.parametrize(
    ("number", "text", "place", "found", "message", "expected", "hint"),
    CASES,
    ids=[f"{number}-{text[-40:]!r}" for number, text, *_ in CASES],
)
def test_one_thing_is_wrong(number, text, place, found, message, expected, hint):
    (problem,) = problems_of(changed(number, text))
    assert problem.file == "t.toml"
    assert (problem.line, problem.column) == place
    assert found in problem.found
    assert problem.found or not found
    assert message in problem.message
    assert expected in problem.expected
    assert hint in problem.hint
    assert str(problem).startswith(f"t.toml:{place[0]}:{place[1]}: ")
    assert "\n" not in str(problem)


def test_without_sections():
    (problem,) = problems_of('title = "T"\nkey = "F"\nmeter = "4/4"\ntempo = 120\n')
    assert "[sections] is missing" in problem.message
    assert "[sections]" in problem.hint
    (problem,) = problems_of("\n".join(LINES[:4]) + "\n[sections]\n")
    assert (problem.line, problem.column) == (5, 2)
    assert "empty" in problem.message
    (problem,) = problems_of("\n".join(LINES[:4]) + '\nsections = "| F |"\n')
    assert (problem.line, problem.column) == (5, 12)
    assert "must be a table" in problem.message


def test_everything_wrong_is_told_at_once_in_file_order():
    text = """title = ""
tempo = 0
key = "H"
colour = "red"
meter = "4/4"
form = ["A", "X"]
[sections]
A = "| F C7 F | H7 | |"
B = { bars = "| F | nonsense |", key = "Q" }
form = ["A"]
[[chorus]]
positon = "x"
"""
    places = [(problem.line, problem.column) for problem in problems_of(text)]
    assert places == [
        *[(1, 9), (2, 9), (3, 7), (4, 1), (6, 14), (8, 8), (8, 17), (8, 20)],
        *[(9, 21), (9, 40), (10, 1), (12, 1)],
    ]


def test_a_section_reached_from_two_chords_cannot_start_with_a_slash():
    sections = ['A = "| F | C7 |"', 'B = "| / | G7 |"', 'C = "| Am | Dm |"']
    text = "\n".join([*LINES[:4], 'form = ["A", "B", "C", "B"]', "[sections]", *sections])
    (problem,) = problems_of(text)
    assert (problem.line, problem.column, problem.found) == (8, 8, "/")
    assert "C7 and Dm" in problem.message
    assert problem.hint == "Write the chord itself."


def test_an_unplayed_section_cannot_start_with_a_slash():
    text = "\n".join([*LINES[:4], 'form = ["A"]', "[sections]", LINES[6], 'B = "| / | G7 |"'])
    (problem,) = problems_of(text)
    assert (problem.line, problem.column) == (8, 8)
    assert "never comes to it" in problem.message


def test_a_wrong_meter_is_told_once_and_bars_are_not_counted_by_it():
    (problem,) = problems_of(changed(3, 'meter = "4/5"').replace("| F | C7 |", "| F C7 G |"))
    assert (problem.line, problem.column) == (3, 9)


def test_a_sections_wrong_meter_is_told_once_and_its_bars_are_not_counted_by_the_tunes():
    (problem,) = problems_of(changed(7, 'A = { bars = "| F C7 G |", meter = "9/4" }'))
    assert (problem.line, problem.column) == (7, 36)


def test_a_pickup_is_measured_by_the_first_bar_that_is_played():
    lines = [*LINES[:4], "pickup = 2", "[sections]", 'A = { bars = "| F |", meter = "2/4" }']
    (problem,) = problems_of("\n".join(lines))
    assert (problem.line, problem.column) == (5, 10)
    assert "less than the 2" in problem.expected


def test_a_form_that_is_too_long():
    names = ", ".join(['"A"'] * 1001)
    (problem,) = problems_of(changed(5, f"form = [{names}]"))
    assert (problem.line, problem.column) == (5, 8)
    assert "longer than 2000 bars" in problem.message


@pytest.mark.slow
def test_too_many_bars_in_all_sections_together():
    bars = "| F " * 1000 + "|"
    parts = ["[sections]", f'A = "{bars}"', f'B = "{bars} F |"']
    (problem,) = problems_of("\n".join([*LINES[:4], 'form = ["A"]', *parts]))
    assert (problem.line, problem.column) == (8, 5 + 4 * 1000 + 3)
    assert "more than 2000 bars" in problem.message


def test_too_many_choruses():
    (problem,) = problems_of("\n".join(LINES[:8]) + "\n[[chorus]]" * 101)
    assert (problem.line, problem.column) == (109, 3)
    assert "at most 100" in problem.expected


def test_of_very_many_problems_the_first_are_told():
    problems = problems_of(changed(7, 'A = "' + "| H7 " * 1500 + '|"'))
    assert len(problems) == 201
    assert problems[0].column == 8
    assert "not read further" in problems[-1].message


def test_a_melody_that_is_not_there(tmp_path):
    path = tmp_path / "t.toml"
    path.write_text(changed(1, "title = 'T'\nmelody = 'x.xml'"))
    with pytest.raises(InputError) as caught:
        read_tune(path)
    (problem,) = caught.value.problems
    assert (problem.line, problem.column, problem.found) == (2, 10, "x.xml")
    assert "which is not there" in problem.message
    (tmp_path / "x.xml").mkdir()
    with pytest.raises(InputError):
        read_tune(path)
