"""`shapes`, `positions` and `keys` as a user meets them."""

import json

import pytest

TUNE = '''title = "Round <b>the</b> Pump"
key = "C"
meter = "4/4"
tempo = 120
style = "four-light-heavy"

[sections]
A = """
| C | G7 | C / C7 / | F | C | G7 | C |
"""
'''


def test_shapes_are_drawn_best_first(accomp):
    said = accomp("shapes", "C7", "--best", "3")
    assert said.code == 0
    assert said.out.startswith("C7 (C E G Bb) on Tenor banjo: 77 shapes, the best 3\n")
    assert "0 0 2 1" in said.out
    assert "more:" not in said.out, "as many as were asked for"
    assert said.err == ""


def test_shapes_as_one_json_document(accomp):
    one = json.loads(accomp("shapes", "C7", "--json").out)
    assert one["chord"] == "C7"
    costs = [shape["cost"] for shape in one["shapes"]]
    assert costs == sorted(costs)
    assert len(costs) == 77
    few = json.loads(accomp("shapes", "C7", "--best", "2", "--json").out)
    assert (len(few["shapes"]), few["of"], few["notices"]) == (2, 77, [])
    several = json.loads(accomp("shapes", "C", "G7", "--json").out)
    assert [document["chord"] for document in several] == ["C", "G7"]


def test_shapes_say_how_they_are_made(accomp):
    said = accomp("shapes", "G7", "--known", "--explain")
    assert "G7 2 4 3 5 is made from G 2 4 5 5 (F 0 2 3 3, two frets up)" in said.out
    said = accomp("shapes", "C13#11", "--known", "--hand", "large", "--explain")
    assert said.code == 0
    assert "4 2 4 1" in said.out  # which a medium hand does not span
    assert "4 2 4 1" not in accomp("shapes", "C13#11", "--known", "--explain").out


def test_a_repertoire_is_proposed_written_edited_and_used(accomp, tmp_path):
    shapes = ("shapes", "C", "--instrument", "plectrum-banjo")
    assert accomp(*shapes, "--write-repertoire", "mine.toml").code == 0
    text = (tmp_path / "mine.toml").read_text()
    count = text.count("\n[[shape]]\n")
    assert count > 3
    first = text.index("[[shape]]")
    second = text.index("[[shape]]", first + 1)
    third = text.index("[[shape]]", second + 1)
    (tmp_path / "mine.toml").write_text(text[:third])
    known = (*shapes, "--known", "--json")
    before = json.loads(accomp(*known).out)["shapes"]
    after = json.loads(accomp(*known, "--repertoire", "mine.toml").out)["shapes"]
    assert 0 < len(after) < len(before)
    assert accomp("check", "mine.toml").code == 0


def test_positions_are_drawn_and_explained(accomp, tune):
    path = tune(TUNE)
    said = accomp("positions", path)
    assert said.code == 0
    assert "third-top: frets 2 to 8, closed, widest stretch 76 mm" in said.out
    # What `make` takes is not always the lowest: the style chokes, and root-top has open strings.
    assert said.out.splitlines()[1] == "To learn first: fifth-top."
    assert said.out.index("root-top: ") < said.out.index("fifth-top: ")
    for short in (("--explain", path), (path, "--explain"), (path, "--explain", "short")):
        page = accomp("positions", *short).out
        assert "C: one. This grip is C and Am7 without root." in page
        assert "Drill these changes" in page
        assert "is made from" not in page
    for full in (("--explain", "full", path), (path, "--explain=full")):
        lesson = accomp("positions", *full).out
        assert "C7 4 3 5 3 is made from C 4 5 5 7: " in lesson
        assert "Drill first: " in lesson
    assert accomp("positions", path, "--explain=all").code == 2


def test_positions_as_one_json_document(accomp, tune):
    said = accomp("positions", tune(TUNE), "--json", "--position", "third-top")
    document = json.loads(said.out)
    assert (document["tune"], document["key"]) == ("Round <b>the</b> Pump", "C")
    assert document["learn_first"] == "fifth-top"
    (third,) = document["positions"]
    assert third["shapes"] == {
        "C": [4, 5, 5, 7], "G7": [2, 4, 3, 5], "C7": [4, 3, 5, 3], "F": [5, 5, 7, 8],
    }  # fmt: skip
    places = [(one["bar"], one["beat"], one["chord"]) for one in third["path"]]
    assert places[2:5] == [(3, 1, "C"), (3, 3, "C7"), (4, 1, "F")]


def test_positions_in_another_key_by_free_plan_of_all_shapes(accomp, tune):
    said = accomp(
        "positions", tune(TUNE), "--key", "Eb", "--plan", "free", "--shapes", "all", "--json"
    )
    document = json.loads(said.out)
    assert document["key"] == "Eb"
    assert {one["chord"] for one in document["positions"][0]["path"]} == {"Eb", "Bb7", "Eb7", "Ab"}


def test_keys_in_a_table_and_as_json(accomp, tune):
    path = tune(TUNE)
    said = accomp("keys", path)
    assert said.code == 0
    assert "slid from" in said.out
    document = json.loads(accomp("keys", path, "--json").out)
    assert [row["key"] for row in document["keys"]] == "C Db D Eb E F Gb G Ab A Bb B".split()
    assert all(row["positions"] for row in document["keys"])


@pytest.mark.parametrize("command", ["shapes", "positions", "keys"])
def test_boxes_as_svg(accomp, tune, tmp_path, command):
    from lxml import etree

    what = "C7" if command == "shapes" else tune(TUNE)
    assert accomp(command, what, "--svg", "boxes.svg").code == 0
    root = etree.parse(str(tmp_path / "boxes.svg")).getroot()
    assert root.findall(".//{*}g[@class='chord-box']")
    said = accomp(command, what, "--svg", "nowhere/there/boxes.svg", "--json")
    assert said.code == 0
    assert (tmp_path / "nowhere" / "there" / "boxes.svg").is_file()


OWN = """title = "Cross-tuned"
strings = ["C3", "G3", "C4", "E4"]
frets = 22
scale = 670
"""


def test_a_proposed_repertoire_is_said(accomp, tune, tmp_path):
    (tmp_path / "own.toml").write_text(OWN)
    for words in (("positions", tune(TUNE)), ("shapes", "C")):
        said = accomp(*words, "--instrument", "own.toml")
        assert "the program proposes" in said.err, words
        assert "--write-repertoire" in said.err
    found = json.loads(accomp("shapes", "C", "--instrument", "own.toml", "--json").out)
    assert any("the program proposes" in notice for notice in found["notices"])


WRONG = [
    (("shapes", "Hm7"), "'Hm7' is not a chord symbol"),
    (("shapes", "C", "--instrument", "ukelele"), "Did you mean 'ukulele'"),
    (
        ("shapes", "C", "--hand", "huge"),
        "Known hands: large, medium, small; or give a file ending in .toml.",
    ),
    (
        ("shapes", "C", "--reach", "-1"),
        "--reach: must be a number of mm above 0, at most 400, and this is -1",
    ),
    (
        ("shapes", "C", "--reach", "nan"),
        "--reach: must be a number of mm above 0, at most 400, and this is nan",
    ),
    (("shapes", "Bb", "--reach", "20"), "(--reach)"),
    (("shapes", "C", "--repertoire", "none.toml"), "there is no such file"),
    (("shapes", "C", "--costs", "none.toml"), "there is no such file"),
    (("positions", "tune.toml", "--position", "third-topp"), "Did you mean 'third-top'"),
    (("positions", "tune.toml", "--position", "16"), "Positions there are: "),
    (("positions", "tune.toml", "--reach", "5"), "tune.toml:9:3: C: no shape on Tenor banjo"),
    (("positions", "tune.toml", "--reach", "5"), "(--reach)"),
    (("positions", "tune.toml", "--position", "sixth-top"), "tune.toml: there is no position"),
    (("positions", "tune.toml", "--position", "sixth-top"), "Positions there are: root-top, third"),
    (("positions", "tune.toml", "--key", "H"), "'H' is not a key"),
    (("positions", "tune.toml", "--key", "all"), "`accomp keys` shows all"),
    (("keys", "tune.toml", "--instrument", "bad.toml"), "bad.toml:3:"),
    (("keys", "none.toml"), "there is no such file"),
]


@pytest.mark.parametrize(("arguments", "words"), WRONG, ids=lambda value: str(value)[:40])
def test_what_is_wrong_is_said(accomp, tune, tmp_path, arguments, words):
    tune(TUNE)
    (tmp_path / "bad.toml").write_text('strings = ["C3", "G3"]\nfrets = 12\nscale = -1\n')
    said = accomp(*arguments)
    assert said.code == (2 if said.err.startswith("--") else 1)
    assert words in said.err
    assert said.out == ""


def test_wrong_usage(accomp):
    assert accomp("shapes").code == 2
    assert accomp("shapes", "C", "--best", "0").code == 2
    assert accomp("positions", "tune.toml", "--plan", "lazy").code == 2


@pytest.mark.slow
def test_one_word_for_the_vocabulary_everywhere(accomp, tune):
    from accomp.neck.player import VOCABULARIES
    from accomp.tune import fields

    path = tune(TUNE)
    assert fields.VOCABULARIES == VOCABULARIES
    for word in VOCABULARIES:
        assert (
            json.loads(accomp("positions", path, "--vocabulary", word, "--json").out)["vocabulary"]
            == word
        )
        shown = json.loads(accomp("shapes", "C7", "--vocabulary", word, "--json").out)["shapes"]
        assert any(one["inversion"] for one in shown)
        assert len(shown) == (77 if word == "all" else len(shown))
    older = {"known": "first", "all": "all"}
    for old, word in older.items():
        found = json.loads(accomp("positions", path, "--shapes", old, "--json").out)
        assert found["vocabulary"] == word
    assert json.loads(accomp("positions", path, "--json").out)["vocabulary"] == "inversions"
    named = tune('vocabulary = "first"\n' + TUNE)
    assert json.loads(accomp("positions", named, "--json").out)["vocabulary"] == "first"
    assert accomp("positions", tune('vocabulary = "most"\n' + TUNE)).code == 1


def test_a_repertoire_of_ones_own_is_a_vocabulary(accomp, tune):
    accomp("shapes", "C", "--write-repertoire", "mine.toml")
    found = accomp("positions", tune(TUNE), "--repertoire", "mine.toml", "--json")
    assert json.loads(found.out)["vocabulary"] == "first"


def test_what_to_learn_next_and_what_is_left_out_stand_in_json(accomp, tune):
    found = json.loads(accomp("positions", tune(TUNE), "--json").out)
    for position in found["positions"]:
        assert len(position["learn_next"]) <= 3
        price = position["terms"].get("learning", 0)
        assert price == 30 * len(position["to_learn"])
        for one in position["learn_next"]:
            assert set(one) == {
                "shapes", "cost_less", "frets_less", "shift_mm_less", "changes", "of", "words"
            }  # fmt: skip
    ninth = json.loads(accomp("shapes", "C9", "--json").out)["shapes"]
    assert any(one["left_out"] == ["no root: the bass has it"] for one in ninth)


def test_positions_say_where_choked_strokes_leave_open_strings_ringing(accomp, tune):
    note = "root-top: the style chokes, and open strings cannot be choked by the fretting hand"
    for style, noted in (("choked-four", True), ("slow-drag", False)):
        path = tune(TUNE.replace("four-light-heavy", style))
        shown = accomp("positions", path).out
        assert "\nroot-top: frets " in shown
        assert (f"\nNote: {note}: they ring on in the chords of bars 1, 2, " in shown) is noted
        listed = json.loads(accomp("positions", path, "--json").out)
        plans = {plan["name"]: plan["notices"] for plan in listed["positions"]}
        assert any(note in notice for notice in plans["root-top"]) is noted
