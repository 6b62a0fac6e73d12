"""What is wrong inside a tune file: place, found text and remedy, by `make` and by `check --json`.

Lines and columns were counted by hand in the texts below, from 1.
"""

import json

import pytest

# name: (lines of the file, line, column, what was found, words of the remedy)
BAD = {
    "unknown chord": (
        ['A = "| C | Gm7bb5 |"'],
        (8, 12),
        "Gm7bb5",
        "Did you mean 'Gm7b5'?",
    ),
    "unknown chord in the second line of a section": (
        ['A = """', "| C | F / G7 / |", "| C7 | F | H7 |", '"""'],
        (10, 12),
        "H7",
        "",
    ),
    "three chords in a bar of 4/4": (
        ['A = "| C | F G7 Am |"'],
        (8, 12),
        "F G7 Am",
        "'F / G7 Am' or 'F G7 Am /'",
    ),
    "the tune begins with /": (
        ['A = "| / | C |"'],
        (8, 8),
        "/",
        "Write the chord itself",
    ),
    "form names a section that is not there": (
        ['A = "| C | F |"'],
        (1, 14),
        "Bridge",
        "Sections here are: A",
        'form = ["A", "Bridge"]',
    ),
    "form in [sections]": (
        ['A = "| C | F |"', 'form = ["A", "A"]'],
        (9, 1),
        "form",
        "Move 'form' up",
    ),
    "unknown key": (
        ['A = "| C | F |"'],
        (1, 1),
        "composr",
        "Did you mean 'composer'?",
        'composr = "Ada Pell"',
    ),
    "style of another meter": (
        ['A = { bars = "| C | F |", meter = "3/4", style = "two-beat" }'],
        (8, 50),
        "two-beat",
        "Choose a style in 3/4",
    ),
    "unknown style": (
        ['A = "| C | F |"'],
        (1, 9),
        "four-light-hevy",
        "Did you mean 'four-light-heavy'?",
        'style = "four-light-hevy"',
    ),
    "unknown instrument": (
        ['A = "| C | F |"'],
        (1, 14),
        "tenor-bnajo",
        "Did you mean 'tenor-banjo'?",
        'instrument = "tenor-bnajo"',
    ),
    "not TOML": (
        ['A = "| C | F |"'],
        (1, 12),
        "composer = Ada Pell",
        "quotes",
        "composer = Ada Pell",
    ),
    "no bars at all": (
        ["A = 'nothing here'"],
        (8, 6),
        "nothing here",
        "Every line of bars begins and ends with |",
    ),
}
HEAD = ['key = "C"', 'meter = "4/4"', "tempo = 120", "# lanes", "# and kettles"]


def bad(name: str) -> tuple[str, tuple[int, int], str, str]:
    lines, place, found, remedy, *top = BAD[name]
    first = [*top, 'title = "Kettle Lane"'] if top else ['title = "Kettle Lane"']
    head = HEAD[:-1] if top else HEAD
    return "\n".join([*first, *head, "[sections]", *lines, ""]), place, found, remedy


@pytest.mark.parametrize("name", BAD)
def test_make_says_where_what_and_what_to_do_and_touches_nothing(name, accomp, tune, earlier):
    text, (line, column), found, remedy = bad(name)
    said = accomp("make", tune(text), "--out", "out")
    assert said.code == 1
    assert f"tune.toml:{line}:{column}: " in said.err
    assert found in said.err
    assert remedy in said.err
    assert not said.out
    earlier()


@pytest.mark.parametrize("name", BAD)
def test_check_says_the_same_as_json(name, accomp, tune):
    text, (line, column), found, remedy = bad(name)
    path = tune(text)
    said = accomp("check", path, "--json")
    assert said.code == 1
    assert not said.err
    problems = json.loads(said.out)
    here = [p for p in problems if (p["line"], p["column"]) == (line, column)]
    assert here, problems
    assert here[0]["file"] == str(path)
    assert here[0]["found"] == found
    assert remedy in here[0]["hint"]
    assert here[0]["expected"]


def test_everything_that_is_wrong_is_told_at_once_in_file_order(accomp, tune):
    text = """title = "Kettle Lane"
key = "H"
meter = "7/4"
tempo = 0
[sections]
A = "| Cq | F |"
B = "| C | G7 Zz |"
"""
    said = accomp("make", tune(text), "--out", "out")
    assert said.code == 1
    places = [line.split(": ")[0].split("tune.toml:")[1] for line in said.err.splitlines()]
    assert places == ["2:7", "3:9", "4:9", "6:8", "7:15"]


def test_a_chord_without_a_playable_shape_is_shown_where_it_stands(accomp, tune, earlier):
    said = accomp("make", tune(), "--out", "out", "--reach", "5")
    assert said.code == 1
    lines = said.err.splitlines()
    assert [line.split("tune.toml:")[1].split(": no shape")[0] for line in lines] == [
        "9:3: C",
        "9:11: G7",
        "10:3: C7",
    ]  # F has 0 10 10 0: C3 F4 C5 A4, one finger
    assert "5 mm" in said.err
    assert "--reach" in said.err.split("5 mm")[1]
    earlier()


def test_an_instrument_of_ones_own_that_cannot_play_the_tune(accomp, tune, earlier):
    tune('strings = ["C3", "C3", "C4", "C4"]\nfrets = 1\nscale = 600\n', "drone.toml")
    said = accomp("make", tune(), "--out", "out", "--instrument", "drone.toml")
    assert said.code == 1
    for place, chord in (("9:3", "C"), ("9:7", "F"), ("9:11", "G7"), ("10:3", "C7")):
        assert f"tune.toml:{place}: {chord}: no shape on drone" in said.err
    assert "Write a plainer chord" in said.err
    earlier()


def test_a_position_that_is_not_there_says_which_are(accomp, tune, earlier):
    said = accomp("make", tune(), "--out", "out", "--position", "ninth-top")
    assert said.code == 1
    assert "ninth-top" in said.err
    assert "root-top" in said.err
    earlier()


@pytest.mark.parametrize("name", ["H", "Fmaj", ""])
def test_a_key_that_is_none_is_refused(name, accomp, tune, earlier):
    said = accomp("make", tune(), "--out", "out", "--key", name)
    assert said.code == 2
    assert "--key" in said.err
    assert (repr(name) if name else "empty") in said.err
    earlier()


@pytest.mark.parametrize("tempo", ["0", "10000", "nan", "-3", "inf"])
def test_a_tempo_that_cannot_be_is_refused(tempo, accomp, tune, earlier):
    said = accomp("make", tune(), "--out", "out", "--tempo", tempo)
    assert said.code == 2
    assert "--tempo" in said.err
    assert "20 to 400" in said.err
    earlier()


@pytest.mark.parametrize(
    "arguments",
    [("make",), ("make", "--nonsense"), ("mkae", "x"), ("make", "tune.toml", "--choruses", "0")],
)
def test_wrong_usage_exits_2_and_says_how(arguments, accomp, tune):
    tune()
    said = accomp(*arguments)
    assert said.code == 2
    command = "accomp make" if arguments[0] == "make" else "accomp"
    assert said.err.startswith(f"Usage: {command} [OPTIONS] ")
    assert f"\nTry '{command} --help' for help.\n\nError: " in said.err


def test_of_several_tunes_good_ones_are_made_and_bad_ones_reported_together(accomp, tune, tmp_path):
    good = tune(name="good.toml")
    first = tune('title = "No Key"\n', "first.toml")
    second = tune("= 3", "second.toml")
    said = accomp("make", first, good, second, "--out", "all", "--only", "midi")
    assert said.code == 1
    assert (tmp_path / "all" / "kettle-lane" / "manifest.json").is_file()
    assert [path.name for path in (tmp_path / "all").iterdir()] == ["kettle-lane"]
    assert "first.toml" in said.err
    assert "second.toml:1:1" in said.err
    assert "1 of 3" in said.err
