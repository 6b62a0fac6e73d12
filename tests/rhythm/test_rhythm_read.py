"""Style files: what is read, and every error with its place."""

import contextlib
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from accomp.errors import InputError
from accomp.rhythm import describe_style, find_style, plain_style, read_style, style_names
from accomp.time import METERS, Meter

GOOD = """\
title = "A four of my own"
meter = "4/4"
tempo = [90, 180]

[strum]
count   = "1    2     3    4"
strings = "low2 all   low2 all"
force   = "light accent light accent"
sound   = "ring choked ring choked"
"""


@pytest.fixture
def written(tmp_path):
    def write(text, name="own"):
        path = tmp_path / f"{name}.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def problems(path):
    with pytest.raises(InputError) as caught:
        read_style(path)
    return caught.value.problems


def test_nine_lines_are_a_style(written):
    style = read_style(written(GOOD))
    assert (style.name, style.title, str(style.meter)) == ("own", "A four of my own", "4/4")
    assert style.tempo == (90, 180)
    assert style.strum.length == 1
    assert [stroke.start for stroke in style.strum.strokes] == [
        0, Fraction(1, 4), Fraction(1, 2), Fraction(3, 4),
    ]  # fmt: skip
    assert [s.strings for s in style.strum.strokes] == ["low2", "all", "low2", "all"]
    assert [s.force for s in style.strum.strokes] == ["light", "accent", "light", "accent"]
    assert {s.direction for s in style.strum.strokes} == {"down"}
    assert style.chokes
    assert style.bass is None
    assert style.drums is None


def test_the_band_is_read(written):
    text = (
        GOOD
        + """
[bass]
count = "1 3"
note  = "root fifth"
sound = "short"
player = "tuba"

[drums]
count = "1 & 2"
snare = ". . X"
ride  = "x light x"
"""
    )
    style = read_style(written(text))
    assert [(n.start, n.what, n.sound) for n in style.bass.notes] == [
        (0, "root", "short"),
        (Fraction(1, 2), "fifth", "short"),
    ]
    assert style.bass.player == "tuba"
    assert [(n.start, n.what, n.force) for n in style.drums.notes] == [
        (0, "ride", "plain"),
        (Fraction(1, 8), "ride", "light"),
        (Fraction(1, 4), "snare", "accent"),
        (Fraction(1, 4), "ride", "plain"),
    ]


def test_a_drummer_holds_sticks_or_brushes(written):
    drums = '[drums]\ncount = "1"\nsnare = "x"\n'
    plain, brushed = (read_style(written(GOOD + drums + more)) for more in ("", BRUSHES))
    assert (plain.drum_set, brushed.drum_set) == (0, 40)  # General MIDI 2's numbers, from 0
    assert "Drums: brushes" in describe_style(brushed)
    assert "Drums" in describe_style(plain)
    (told,) = problems(written(GOOD + drums + 'player = "bushes"\n'))
    assert "Did you mean 'brushes'" in told.hint
    passage = GOOD + drums + "[answer]\n[answer.drums]\n" + 'count = "1"\nsnare = "x"\n'
    assert problems(written(passage + BRUSHES))  # who plays is said once, not in every passage


BRUSHES = 'player = "brushes"\n'


def test_a_stroke_lasts_to_the_next_and_nothing_is_not_a_stroke(written):
    style = read_style(
        written(GOOD.split("[strum]")[0] + '[strum]\ncount="1 2 & 4"\nstroke="down . up down"\n')
    )
    spans = [(s.span.start, s.span.end, s.direction) for s in style.strum.strokes]
    assert spans == [
        (0, Fraction(3, 8), "down"),
        (Fraction(3, 8), Fraction(3, 4), "up"),
        (Fraction(3, 4), 1, "down"),
    ]


def test_swing_by_tempo_and_fixed(written):
    by_tempo = read_style(written('swing = "by tempo"\n' + GOOD))
    fixed = read_style(written("swing = 1.5\n" + GOOD))
    assert by_tempo.swing_at(120) == 3.5
    assert fixed.swing_at(120) == fixed.swing_at(240) == 1.5
    assert read_style(written(GOOD)).swing_at(120) == 1.0


# (what is put in place of what, line, column, the found text, words of the message or the hint)
WRONG = [
    ('"1    2     3    4"', '"1    2     3    5"', 6, 28, "5", "outside a bar of 4/4"),
    ('"1    2     3    4"', '"1    2     2    4"', 6, 23, "2", "comes after 2"),
    ('"1    2     3    4"', '""', 6, 12, "", "the count is empty"),
    ('"1    2     3    4"', "4", 6, 11, "4", "'count' must be a count in quotes"),
    ('count   = "1    2     3    4"', "", 5, 2, "", "'count' is missing in [strum]"),
    ('"low2 all   low2 all"', '"low2 all   lo2 all"', 7, 23, "lo2", "Did you mean 'low2'"),
    ('"low2 all   low2 all"', '"low2 all   low2"', 7, 23, "3 words", "3 words stand under 4"),
    ('"low2 all   low2 all"', '"low2 all low2 all all"', 7, 30, "5 words", "5 words stand under 4"),
    ('"low2 all   low2 all"', "[1, 2]", 7, 11, "[...]", "a row of words in quotes"),
    ("accent light accent", "acent light accent", 8, 18, "acent", "Did you mean 'accent'"),
    ("choked ring choked", "choked ring chocked", 9, 29, "chocked", "Did you mean 'choked'"),
    ("strings =", "string =", 7, 1, "string", "Did you mean 'strings'"),
    ('meter = "4/4"', 'meter = "7/4"', 2, 9, "7/4", "one of 2/2, 3/2"),
    ('meter = "4/4"', "meter = 4", 2, 9, "4", "'meter' must be a meter in quotes"),
    ('meter = "4/4"\n', "", 1, 1, "", "'meter' is missing"),
    ("[90, 180]", "[0, 180]", 3, 10, "0", "beats a minute from 20 to 400, and this is 0"),
    ("[90, 180]", "[90, 10000]", 3, 14, "10000", "from 20 to 400"),
    ("[90, 180]", "[nan, 180]", 3, 10, "nan", "from 20 to 400, and this is nan"),
    ("[90, 180]", "[90, inf]", 3, 14, "inf", "from 20 to 400, and this is inf"),
    ("[90, 180]", "[90, true]", 3, 14, "true", "from 20 to 400, and this is true"),
    ("[90, 180]", "[180, 90]", 3, 9, "[180, 90]", "tempo = [90, 180]"),
    ("[90, 180]", "120", 3, 9, "120", "must be a list of 2, each a number"),
    ("tempo = [90, 180]\n", "", 1, 1, "", "'tempo' is missing"),
    (
        'title = "A four of my own"',
        'title = " "',
        1,
        9,
        "' '",
        "in quotes, and this is empty",
    ),
    ('title = "A four', 'swing = 9\ntitle = "A four', 1, 9, "9", "from 1 to 4"),
    ('title = "A four', 'swing = "hard"\ntitle = "A four', 1, 9, "hard", "by tempo"),
    ('title = "A four', 'titel = "A four', 1, 1, "titel", "Did you mean 'title'"),
    (
        "[strum]",
        "[strum]\nlength = 0",
        6,
        10,
        "0",
        "above 0, at most 256, and this is 0",
    ),
    ("[strum]", "[strum]\nlength = -1.5", 6, 10, "-1.5", "above 0"),
    ("[strum]", "[strum]\nlength = nan", 6, 10, "nan", "above 0"),
    ("[strum]", "[strum]\nlength = 1e9", 6, 10, "1000000000.0", "The nearest is 256"),
    ("[strum]", "[strum]\nlength = 3", 7, 28, "4", "outside the pattern's length of 3"),
    ("[strum]", "[strum]\nspread = -1", 6, 10, "-1", "from 0 to 8"),
    ("[strum]", "[strumm]", 5, 2, "strumm", "Did you mean 'strum'"),
    ("[strum]", "[[strum]]", 5, 3, "[...]", "'strum' must be a table [strum], and this is a list"),
]


@pytest.mark.parametrize(("old", "new", "line", "column", "found", "words"), WRONG)
def test_an_error_names_its_place(written, old, new, line, column, found, words):
    assert old in GOOD
    path = written(GOOD.replace(old, new, 1))
    told = [p for p in problems(path) if words in str(p)]
    assert told, [str(p) for p in problems(path)]
    assert (told[0].line, told[0].column, told[0].found) == (line, column, found)
    assert told[0].file == str(path)


def test_every_error_is_told_at_once_in_file_order(written):
    text = GOOD.replace("light accent", "lite acent", 1).replace("[90, 180]", "[0, 1]")
    told = problems(written(text))
    assert [(p.line, p.column) for p in told] == sorted((p.line, p.column) for p in told)
    assert [p.found for p in told] == ["0", "1", "lite", "acent"]


@pytest.mark.parametrize(
    ("extra", "line", "column", "words"),
    [
        ('[bass]\ncount="1"\nnote="rooot"\n', 13, 7, "Did you mean 'root'"),
        ('[bass]\ncount="1"\nplayer="tubba"\n', 13, 8, "Did you mean 'tuba'"),
        ('[bass]\ncount="1"\nfirst="any"\n', 13, 7, "as written"),
        ('[bass]\nnote="root"\n', 11, 2, "'count' is missing in [bass]"),
        ('[drums]\ncount="1 2"\nsnair="x x"\n', 13, 1, "Did you mean 'snare'"),
        ('[drums]\ncount="1 2"\nsnare="x y"\n', 13, 10, "'y' is not a word"),
        ('[drums]\ncount="1 2"\nsnare="x x x"\n', 13, 12, "3 words stand under 2"),
        ("drums = 3\n", 11, 1, "not known here"),
    ],
)
def test_errors_in_the_band(written, extra, line, column, words):
    told = [p for p in problems(written(GOOD + "\n" + extra)) if words in str(p)]
    assert told
    assert (told[0].line, told[0].column) == (line, column)


def test_a_part_that_is_no_table(written):
    told = problems(written("drums = 3\n" + GOOD))
    assert [(p.line, p.column) for p in told] == [(1, 9)]
    assert "[drums]" in told[0].message


def test_a_file_that_is_not_toml(written):
    assert problems(written(GOOD + "\n[strum"))[0].line == 11


def test_an_unknown_name_gets_a_near_one():
    with pytest.raises(InputError, match="Did you mean 'two-beat'"):
        find_style("two-beet")
    with pytest.raises(InputError, match="is not a style"):
        find_style("../pyproject")


@pytest.mark.parametrize("meter", METERS)
def test_every_meter_has_a_plain_style(meter):
    assert str(plain_style(Meter.parse(meter)).meter) == meter


def test_names_are_sorted_and_all_parse():
    names = style_names()
    assert list(names) == sorted(set(names))
    for name in names:
        assert find_style(name).name == name


def test_a_users_own_style_is_found_and_wins(tmp_path, monkeypatch):
    from accomp.files import data

    folder = tmp_path / "styles"
    folder.mkdir()
    (folder / "my-four.toml").write_text(GOOD, encoding="utf-8")
    (folder / "two-beat.toml").write_text(GOOD, encoding="utf-8")
    monkeypatch.setattr(data, "data_folder", lambda: tmp_path)
    assert find_style("my-four").title == "A four of my own"
    assert find_style("two-beat").title == "A four of my own"


@given(
    st.sampled_from(["count", "stroke", "strings", "force", "sound", "length"]),
    st.one_of(
        st.text(max_size=30),
        st.lists(st.sampled_from("1 2 3 & e a trip let | . down up low2 all".split())).map(
            " ".join
        ),
        st.integers(),
        st.floats(),
    ),
)
def test_no_row_breaks_the_reader(key, value):
    from accomp.files.toml import parse_toml
    from accomp.rhythm.read_style import style_from

    if isinstance(value, str):
        quoted = "".join(
            f"\\U{ord(sign):08x}" for sign in value if not 0xD800 <= ord(sign) < 0xE000
        )
        written = f'"{quoted}"'
    else:
        written = repr(value)
        if not -(2**63) <= value < 2**63 and "e" not in written:
            return
    text = GOOD.replace('count   = "1    2     3    4"', 'count = "1 2 3 4"')
    lines = [line for line in text.splitlines() if not line.startswith(f"{key} ")]
    with contextlib.suppress(InputError):  # and no other exception
        style_from(parse_toml("\n".join([*lines, f"{key} = {written}"]), "own.toml"), "own")
