"""Checking: one sentence for each kind of mistake in every kind of file, and all mistakes at once.

Lines and columns are counted by hand in the texts below, from 1.
"""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import pytest

from accomp.errors import InputError
from accomp.files.data import find
from accomp.files.kinds import Kind
from accomp.job.check import problems_in
from accomp.job.options import Options
from accomp.job.request import resolve
from accomp.tune import read_tune

VOICE = find("soundfonts", "tenor-banjo")
assert VOICE is not None

GOOD: dict[str, str] = {
    "tune": """title = "Lane"
key = "F"
meter = "4/4"
tempo = 120
form = ["A", "A"]
[sections]
A = "| F | C7 |"
""",
    "style": """title = "Mine"
meter = "4/4"
tempo = [90, 180]
loose_ms = 4
swing_notes = "eighths"
[strum]
count = "1 2 3 4"
[ending]
ritard = 1
""",
    "instrument": """title = "Mine"
strings = ["C3", "G3", "D4", "A4"]
frets = 17
scale = 533
""",
    "hand": """title = "Mine"
comfort = 70
greatest = 90
""",
    "costs": """[shape]
height = 1
[change]
shift = 1
""",
    "repertoire": """title = "Mine"
strings = ["C3", "G3", "D4", "A4"]
[[shape]]
chord = "C"
frets = "0 0 2 3"
movable = true
""",
    "book": """title = "Mine"
paper = "a4"
players = ["own", "Bb"]
[keys]
lane = "F"
""",
    "voice": VOICE.read_text(encoding="utf-8"),
}
V = GOOD["voice"].split("\n")

TEXT = "a text in quotes"
PITCH = "a note name and an octave in quotes, as C3 or Bb2"


def _line(start: str) -> int:
    return next(at for at, line in enumerate(V, 1) if line.startswith(start))


def _own(start: str) -> str:
    return V[_line(start) - 1]


def must(key: str, expected: str, found: str) -> str:
    return f"{key} must be {expected}, and this is {found}."


def missing(key: str, where: str, expected: str) -> str:
    return f"{key!r} is missing{where}: it must be {expected}."


# kind of file, kind of mistake, what is put in place of what, place, sentence, remedy
TITLE_3 = (must("'title'", TEXT, "3"), 'Write title = "A Name".')
TITLE_EMPTY = (must("'title'", TEXT, "empty"), 'Write title = "A Name".')
TITLE_BELL = (
    "'title' must be a text in quotes, and this holds the control character U+0007.",
    "Take it out.",
)
TITLES = {
    "tune": "Lane", "style": "Mine", "instrument": "Mine", "hand": "Mine", "repertoire": "Mine",
    "book": "Mine", "voice": _own("title").split('"')[1],
}  # fmt: skip
TOP = {kind: _line("title") if kind == "voice" else 1 for kind in TITLES}
ROWS = [
    *((kind, "title is a number", f'title = "{title}"', "title = 3", (TOP[kind], 9), *TITLE_3)
      for kind, title in TITLES.items()),
    *((kind, "empty text", f'title = "{title}"', 'title = " "', (TOP[kind], 9), *TITLE_EMPTY)
      for kind, title in TITLES.items()),
    *((kind, "control character", f'title = "{title}"', 'title = "a\\u0007"',
       (TOP[kind], 11), *TITLE_BELL)
      for kind, title in TITLES.items()),
    *((kind, "unknown key", "title =", 'titel = 1\ntitle =', (TOP[kind], 1),
       "'titel' is not known here.", "Did you mean 'title'?")
      for kind in TITLES),
    ("costs", "unknown key", "height", "hieght", (2, 1),
     "'hieght' is not known here.", "Did you mean 'height'?"),
    *((kind, "far key", "title =", 'qqqq = 1\ntitle =', (TOP[kind], 1),
       "'qqqq' is not known here.", "Known are: ")
      for kind in TITLES),
    ("costs", "far key", "height", "qqqq", (2, 1),
     "'qqqq' is not known here.", "Known are: stretch, "),
    # a wrong type
    ("tune", "wrong type", "= 120", '= "120"', (4, 9),
     must("'tempo'", "a number of beats a minute from 20 to 400", "'120'"),
     "Write it without quotes."),
    ("style", "wrong type", "= 4\n", "= true\n", (4, 12),
     must("'loose_ms'", "a number from 0 to 40", "true"), "Write a number from 0 to 40."),
    ("instrument", "wrong type", "= 17", "= [17]", (3, 9),
     must("'frets'", "a whole number from 1 to 36", "a list"), "Write frets = 17."),
    ("hand", "wrong type", "= 70", '= "wide"', (2, 11),
     must("'comfort'", "a number from 1 to 400", "'wide'"), "Write comfort = 80."),
    ("costs", "wrong type", "height = 1", "height = {}", (2, 10),
     must("'height'", "a number from 0 to 1000000", "a table"),
     "Write a number from 0 to 1000000."),
    ("repertoire", "wrong type", "= true", '= "true"', (6, 11),
     must("'movable'", "true or false", "'true'"), "Write it without quotes."),
    ("book", "wrong type", '["own", "Bb"]', '"own"', (3, 11),
     must("'players'", "a list, each own, a reader or an instrument", "'own'"),
     'Write players = ["own"].'),
    ("voice", "wrong type", _own("frets ="), "frets = 17.5", (_line("frets ="), 9),
     must("'frets'", "a whole number above 0", "17.5"), "Write a whole number above 0."),
    # out of range
    ("tune", "out of range", "= 120", "= 10", (4, 9),
     must("'tempo'", "a number of beats a minute from 20 to 400", "10"), "The nearest is 20."),
    ("style", "out of range", "= [90, 180]", "= [90, 1800]", (3, 14),
     must("each of 'tempo'", "a number of beats a minute from 20 to 400", "1800"),
     "The nearest is 400."),
    ("instrument", "out of range", "= 17", "= 170", (3, 9),
     must("'frets'", "a whole number from 1 to 36", "170"), "The nearest is 36."),
    ("hand", "out of range", "= 90", "= 900", (3, 12),
     must("'greatest'", "a number from 1 to 400", "900"), "The nearest is 400."),
    ("costs", "out of range", "height = 1", "height = -1", (2, 10),
     must("'height'", "a number from 0 to 1000000", "-1"), "The nearest is 0."),
    ("voice", "out of range", _own("program ="), "program = 128", (_line("program ="), 11),
     must("'program'", "a whole number from 0 to 127", "128"), "The nearest is 127."),
    # no number at all
    ("tune", "no number", "= 120", "= nan", (4, 9),
     must("'tempo'", "a number of beats a minute from 20 to 400", "nan"), "Write tempo = 120."),
    ("style", "no number", "= 4\n", "= inf\n", (4, 12),
     must("'loose_ms'", "a number from 0 to 40", "inf"), "Write a number from 0 to 40."),
    ("instrument", "no number", "= 533", "= nan", (4, 9),
     must("'scale'", "a number from 100 to 2000", "nan"), "Write scale = 533."),
    ("hand", "no number", "= 70", "= -inf", (2, 11),
     must("'comfort'", "a number from 1 to 400", "-inf"), "Write comfort = 80."),
    ("costs", "no number", "height = 1", "height = nan", (2, 10),
     must("'height'", "a number from 0 to 1000000", "nan"), "Write a number from 0 to 1000000."),
    ("voice", "no number", _own("scale_mm ="), "scale_mm = nan", (_line("scale_mm ="), 12),
     must("'scale_mm'", "a number above 0", "nan"), "Write a number above 0."),
    # missing
    ("tune", "missing", "tempo = 120\n", "", (1, 1),
     missing("tempo", "", "a number of beats a minute from 20 to 400"),
     "Add a line tempo = 120 at the top."),
    ("style", "missing", 'count = "1 2 3 4"\n', "", (6, 2),
     missing("count", " in [strum]", "a count in quotes"),
     'Add a line count = "1 2 3 4" under [strum].'),
    ("instrument", "missing", "scale = 533\n", "", (1, 1),
     missing("scale", "", "a number from 100 to 2000"), "Add a line scale = 533 at the top."),
    ("hand", "missing", "greatest = 90\n", "", (1, 1),
     missing("greatest", "", "a number from 1 to 400"), "Add a line greatest = 95 at the top."),
    ("repertoire", "missing", 'chord = "C"\n', "", (3, 3),
     missing("chord", " in [[shape]]", TEXT), 'Add a line chord = "C" under [[shape]].'),
    ("voice", "missing", _own("scale_mm =") + "\n", "", (_line("[neck]"), 2),
     missing("scale_mm", " in [neck]", "a number above 0"),
     "Add a line scale_mm = ... under [neck]."),
    # a table that is none
    ("tune", "no table", "[sections]\nA =", "sections =", (6, 12),
     must("'sections'", "a table [sections]", "'| F | C7 |'"),
     "Write [sections] above its rows."),
    ("style", "no table", "[ending]\nritard = 1\n", "[[ending]]\n", (8, 3),
     must("'ending'", "a table [ending]", "a list"), "Write [ending] above its rows."),
    ("costs", "no table", "[change]\nshift = 1", "[[change]]", (3, 3),
     must("'change'", "a table [change]", "a list"), "Write [change] above its rows."),
    ("repertoire", "no table", "[[shape]]", "[shape]", (3, 2),
     must("'shape'", "a list of tables [[shape]]", "a table"),
     "Write [[shape]] above each of them."),
    ("book", "no table", '[keys]\nlane = "F"', 'keys = "F"', (4, 8),
     must("'keys'", "a table [keys]", "'F'"), "Write [keys] above its rows."),
    ("voice", "no table", "[decay]", "[[decay]]", (_line("[decay]"), 3),
     must("'decay'", "a table [decay]", "a list"), "Write [decay] above its rows."),
    # an item of a list
    ("tune", "item", '"A"]', "2]", (5, 14),
     must("each of 'form'", "a section in quotes, one of A", "2"), "Sections here are: A."),
    ("style", "item", "[90, 180]", '[90, "180"]', (3, 14),
     must("each of 'tempo'", "a number of beats a minute from 20 to 400", "'180'"),
     "Write it without quotes."),
    ("instrument", "item", '"A4"]', '"H4"]', (2, 30),
     must("each of 'strings'", PITCH, "'H4'"), 'Write "C3".'),
    ("repertoire", "item", '"A4"]', "4]", (2, 30),
     must("each of 'strings'", PITCH, "4"), 'Write "C3".'),
    ("book", "item", '"Bb"]', '"Bbb"]', (3, 19),
     must("each of 'players'", "own, a reader or an instrument", "'Bbb'"),
     "Did you mean 'Bb'?"),
    ("voice", "item", _own("roots ="), "roots = [0, -2]", (_line("roots ="), 13),
     must("each of 'roots'", "a whole number of 0 or more", "-2"), "The nearest is 0."),
    # a word that is not in the set
    ("tune", "word", '"4/4"', '"7/4"', (3, 9),
     must("'meter'", "a meter in quotes, one of 2/2, 3/2, 2/4, 3/4, 4/4, 5/4, 6/4, 3/8, 6/8, 9/8, "
          "12/8", "'7/4'"), "Choose one of these."),
    ("style", "word", '"eighths"', '"eights"', (5, 15),
     must("'swing_notes'", '"eighths" or "sixteenths"', "'eights'"), "Did you mean 'eighths'?"),
    ("book", "word", '"a4"', '"a5"', (2, 9),
     must("'paper'", '"a4" or "letter"', "'a5'"), 'Write paper = "a4".'),
]  # fmt: skip

MISTAKES = dict.fromkeys(row[1] for row in ROWS)
# What a kind of file has none of: texts, needed keys, numbers, tables, lists, closed sets.
WITHOUT = {
    ("costs", "title is a number"), ("costs", "empty text"), ("costs", "control character"),
    ("costs", "missing"), ("costs", "item"), ("costs", "word"), ("book", "missing"),
    ("book", "out of range"), ("book", "no number"), ("repertoire", "out of range"),
    ("repertoire", "no number"), ("repertoire", "word"), ("hand", "no table"), ("hand", "item"),
    ("hand", "word"), ("instrument", "no table"), ("instrument", "word"), ("voice", "word"),
}  # fmt: skip


def check(tmp_path: Path, kind: str, text: str) -> list[tuple[str, tuple[int, int], str, str]]:
    """What is said of a file, each time with a tune beside it."""
    (tmp_path / "lane.toml").write_text(GOOD["tune"], encoding="utf-8")
    path = tmp_path / ("book.toml" if kind == "book" else f"{kind}.toml")
    path.write_text(text, encoding="utf-8")
    return [
        (Path(one.file).name, (one.line, one.column), one.message, one.hint)
        for one in problems_in(path)
    ]


def test_every_kind_of_file_has_every_kind_of_mistake() -> None:
    assert set(GOOD) == set(get_args(Kind))
    told = {(kind, mistake) for kind, mistake, *_ in ROWS}
    assert not told & WITHOUT
    assert told | WITHOUT == {(kind, mistake) for kind in GOOD for mistake in MISTAKES}


@pytest.mark.parametrize("kind", GOOD)
def test_files_are_good_before_they_are_changed(kind: str, tmp_path: Path) -> None:
    assert check(tmp_path, kind, GOOD[kind]) == []


@pytest.mark.parametrize(
    ("kind", "mistake", "old", "new", "place", "sentence", "remedy"),
    ROWS,
    ids=[f"{row[0]}-{row[1]}" for row in ROWS],
)
def test_one_sentence_for_each_mistake(
    kind: str,
    mistake: str,
    old: str,
    new: str,
    place: tuple[int, int],
    sentence: str,
    remedy: str,
    tmp_path: Path,
) -> None:
    assert old in GOOD[kind]
    ((file, at, message, hint),) = check(tmp_path, kind, GOOD[kind].replace(old, new, 1))
    assert file == ("book.toml" if kind == "book" else f"{kind}.toml")
    assert (at, message) == (place, sentence)
    assert hint.startswith(remedy)


def test_names_are_judged_together_with_the_rest_of_a_tune(tmp_path: Path) -> None:
    text = """title = "Lane"
key = "F"
meter = "4/4"
tempo = 120
style = "waltzz"
instrument = "tenor-bnajo"
form = ["A"]
[sections]
A = "| F | H7 |"
B = { bars = "| F |", style = "two-beet" }
C = { bars = "| F | Q |", meter = "3/4", style = "flat-four" }
[[chorus]]
style = "shufle"
"""
    told = check(tmp_path, "tune", text)
    assert [at for _, at, *_ in told] == [(5, 9), (6, 14), (9, 12), (10, 31), (11, 21), (13, 9)]
    hints = " ".join(hint for *_, hint in told)
    for near in ("waltz", "tenor-banjo", "two-beat", "shuffle"):
        assert f"Did you mean {near!r}?" in hints


def test_a_style_of_another_meter_is_told_with_a_wrong_chord(tmp_path: Path) -> None:
    text = GOOD["tune"].replace("form =", 'style = "waltz"\nform =').replace("C7", "H7")
    told = check(tmp_path, "tune", text)
    assert [at for _, at, *_ in told] == [(5, 9), (8, 12)]
    assert told[0][2] == "style 'waltz' is in 3/4, and section 'A' is in 4/4."


def test_a_wrong_meter_hides_no_unknown_style_and_invents_no_misfit(tmp_path: Path) -> None:
    text = GOOD["tune"].replace("form =", 'style = "waltzz"\nform =').replace("4/4", "4/5")
    assert [at for _, at, *_ in check(tmp_path, "tune", text)] == [(3, 9), (5, 9)]
    text = text.replace("zz", "z")
    assert [at for _, at, *_ in check(tmp_path, "tune", text)] == [(3, 9)]
    own = 'A = { bars = "| F | C7 |", meter = "4/4" }'
    text = text.replace('A = "| F | C7 |"', own)
    assert [at for _, at, *_ in check(tmp_path, "tune", text)] == [(3, 9)]


def test_a_wrong_form_hides_no_style_of_another_meter(tmp_path: Path) -> None:
    text = GOOD["tune"].replace("form =", 'style = "waltz"\nform =').replace('"A"]', '"Z"]')
    assert [at for _, at, *_ in check(tmp_path, "tune", text)] == [(5, 9), (6, 14)]


def test_a_wrong_file_beside_the_tune_is_told_with_the_tune(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(GOOD["style"].replace("1 2 3 4", "1 2 3 9"))
    text = GOOD["tune"].replace("form =", 'style = "mine.toml"\nform =').replace("C7", "H7")
    told = check(tmp_path, "tune", text)
    assert [(file, at) for file, at, *_ in told] == [
        ("tune.toml", (8, 12)),
        ("mine.toml", (7, 16)),
    ]


@pytest.mark.parametrize(
    ("good", "wrong", "at"),
    [
        ('title = "Lane"', "title = 3", (1, 9)),
        ("tempo = 120", "tempo = 9", (4, 9)),
        ("tempo = 120", 'tempo = 120\nstyle = "watlz"', (5, 9)),
        ("tempo = 120", 'tempo = 120\nmelody = "gone.abc"', (5, 10)),
        ("tempo = 120", 'tempo = 120\ncolour = "red"', (5, 1)),
        ("tempo = 120", 'tempo = 120\nmelody = "empty.abc"', (5, 10)),
    ],
)
def test_what_the_left_hand_cannot_do_is_told_whatever_else_is_wrong(
    good: str, wrong: str, at: tuple[int, int], tmp_path: Path
) -> None:
    (tmp_path / "empty.abc").write_text("")
    wishes = '[shapes]\n"C7" = "0 0 2 2"\n[top]\n1 = "G"\n'
    text = GOOD["tune"] + wishes
    alone = check(tmp_path, "tune", text)
    assert [place for _, place, *_ in alone] == [(9, 8), (11, 5)]
    told = check(tmp_path, "tune", text.replace(good, wrong))
    more = wrong.count("\n")
    assert [place for _, place, *_ in told] == [at, (9 + more, 8), (11 + more, 5)]


@pytest.mark.parametrize(
    "wrong", ['key = "H"', 'meter = "7/7"', 'instrument = "zither"', "instrument = 3"]
)
def test_no_hand_is_judged_by_what_stands_in(wrong: str, tmp_path: Path) -> None:
    key = wrong.split(" = ")[0]
    kept = [line for line in GOOD["tune"].split("\n") if not line.startswith(key)]
    text = "\n".join([wrong, *kept]) + '[shapes]\n"C7" = "0 0 2 2"\n'
    assert [place for _, place, *_ in check(tmp_path, "tune", text)] == [(1, len(key) + 4)]


def test_every_chorus_in_a_position_that_there_is_not_is_told(tmp_path: Path) -> None:
    choruses = ("root-top", "nowhere", "elsewhere", "nowhere")
    named = "".join(f'[[chorus]]\nposition = "{one}"\n' for one in choruses)
    told = check(tmp_path, "tune", GOOD["tune"] + named)
    assert [place for _, place, *_ in told] == [(11, 12), (13, 12), (15, 12)]


def test_a_style_with_a_wrong_meter_is_read_to_its_end(tmp_path: Path) -> None:
    text = GOOD["style"].replace("4/4", "7/4") + 'louder = 1\n[bass]\ncount = "1"\nnote = "rot"\n'
    assert [at for _, at, *_ in check(tmp_path, "style", text)] == [(2, 9), (10, 1), (13, 9)]


def test_everything_wrong_in_a_repertoire_is_told_at_once(tmp_path: Path) -> None:
    text = GOOD["repertoire"].replace('"A4"]', '"A4x"]').replace('"C"', '"H"') + "colour = 1\n"
    text += '[[shape]]\nchord = "C"\nfrets = "0 0 y 3"\nmovable = 1\n'
    told = [at for _, at, *_ in check(tmp_path, "repertoire", text)]
    assert told == [(2, 30), (4, 9), (7, 1), (10, 9), (11, 11)]


def test_a_book_is_checked_with_its_tunes(tmp_path: Path) -> None:
    (tmp_path / "wrong.toml").write_text(GOOD["tune"].replace("C7", "H7"))
    (tmp_path / "half.toml").write_text("title = ")
    (tmp_path / "mine.toml").write_text(GOOD["style"].replace("[90, 180]", "[9, 180]"))
    text = """title = 3
paper = "a5"
order = ["lane", "lnae", "wrong", "half"]
[keys]
lane = ["Bb", "Dm"]
wrong = "H"
gone = "F"
"""
    told = check(tmp_path, "book", text)
    assert [(file, at) for file, at, *_ in told] == [
        ("book.toml", (1, 9)),
        ("book.toml", (2, 9)),
        ("book.toml", (3, 18)),
        ("book.toml", (5, 8)),
        ("book.toml", (6, 9)),
        ("book.toml", (7, 1)),
        ("half.toml", (1, 9)),
        ("wrong.toml", (7, 12)),
    ]
    assert told[2][3] == "Did you mean 'lane'?"
    assert "no major key" in told[3][2]


def test_a_book_without_an_order_checks_every_tune_and_no_other_file(tmp_path: Path) -> None:
    (tmp_path / "wrong.toml").write_text(GOOD["tune"].replace("C7", "H7"))
    (tmp_path / "mine.toml").write_text(GOOD["style"].replace("[90, 180]", "[9, 180]"))
    told = check(tmp_path, "book", GOOD["book"])
    assert [(file, at) for file, at, *_ in told] == [("wrong.toml", (7, 12))]


def test_of_very_many_mistakes_the_first_are_told(tmp_path: Path) -> None:
    lines = "".join(f"key_{at} = {at}\n" for at in range(500))
    told = check(tmp_path, "hand", lines + GOOD["hand"])
    assert len(told) == 201
    assert "more than 200 things are wrong" in told[-1][2]


def test_only_sound_values_are_compared_with_one_another(tmp_path: Path) -> None:
    text = GOOD["hand"].replace('"Mine"', "3").replace("= 70", "= 95")
    assert [at for _, at, *_ in check(tmp_path, "hand", text)] == [(1, 9), (2, 11)]
    text = GOOD["voice"].replace(_own("roots ="), "roots = [5, 2]")
    text = text.replace(_own("scale_mm ="), "scale_mm = 0")
    told = [message for *_, message, _ in check(tmp_path, "voice", text)]
    assert told == [
        must("'scale_mm'", "a number above 0", "0"),
        must("'roots'", "rising frets of the neck, up to 19", "5, 2"),
    ]
    text = text.replace(_own("frets ="), "frets = 0")
    assert len(check(tmp_path, "voice", text)) == 2  # without a neck no root is too high


def test_a_beginning_of_the_drums_needs_drums(tmp_path: Path) -> None:
    (tmp_path / "alone.toml").write_text(GOOD["style"], encoding="utf-8")
    text = GOOD["tune"].replace("form", 'begin = "roll-off"\nstyle = "alone.toml"\nform')
    tune = tmp_path / "tune.toml"
    tune.write_text(text, encoding="utf-8")
    (problem,) = problems_in(tune)
    assert (problem.line, problem.column, problem.found) == (5, 9, "roll-off")
    assert "played by the drums, and 'alone' has none" in problem.message
    assert problem.hint == 'Write begin = "vamp", or choose a style with drums.'
    tune.write_text(text.replace("roll-off", "vamp"), encoding="utf-8")
    assert problems_in(tune) == ()


@pytest.mark.many(1, 99)
@pytest.mark.parametrize(
    ("tempo", "form", "times", "said"),
    [
        (120, 40, 100, "has 8,000 bars, and at most 4,000 are played"),
        (20, 10, 100, "lasts 6.7 hours, and at most 2.5 are played"),
        (120, 20, 100, ""),
        (120, 1000, 2, ""),
    ],
)
def test_a_few_lines_do_not_ask_for_days(
    tempo: int, form: int, times: int, said: str, tmp_path: Path
) -> None:
    """Two bars to a section; a bar of 4/4 is 2 s at 120, 12 s at 20."""
    path = tmp_path / "long.toml"
    sections = ", ".join(['"A"'] * form)
    text = GOOD["tune"].replace('"A", "A"', sections).replace("120", str(tempo))
    path.write_text(f"choruses = {times}\n{text}", encoding="utf-8")
    checked = problems_in(path)
    assert [one.message.partition(" through, ")[2] for one in checked] == (
        [f"{said}."] if said else []
    )
    for asked in (None, times):
        options = Options(choruses=asked, only=("midi",))
        try:
            resolve(read_tune(path), options)
        except InputError as error:
            (told,) = error.problems
            assert (told.line, told.setting) == ((6, "") if asked is None else (0, "choruses"))
            assert said in told.message
            assert said
        else:
            assert not said
