"""Titles are data: whatever they hold, files stay inside the folder and apart from one another."""

import json

import pytest

TITLES = [
    "../../etc/passwd",
    "..",
    ".",
    "/",
    "a/b\\c",
    "C:\\tunes\\new",
    "con",
    "-rf",
    "~",
    "$(touch gone) `touch gone`; touch gone",
    "x" * 300,
    "é" * 300,
    "  spaced  out  ",
    "港の歌",
    "שיר",
    "🪕🪕",
    "<b>&amp;\"'",
    '#read("x")',
    "%s %d {0}",
    "a\u202eb",
    "\u200b",
]


@pytest.mark.many(5, 99)
@pytest.mark.parametrize("title", TITLES)
def test_any_title_makes_plain_files_in_one_folder(title, accomp, good, tune, tmp_path):
    inner = tmp_path / "inner"
    inner.mkdir()
    tune(good.replace('"Kettle Lane"', json.dumps(title, ensure_ascii=False)), "inner/odd.toml")
    for more in ((), ("--out", "inner/here")):
        said = accomp("make", "inner/odd.toml", "--only", "midi", "--only", "musicxml", *more)
        assert said.code == 0, said.err
    made = [path for path in tmp_path.rglob("*") if path.name != "odd.toml"]
    folders = [path for path in made if path.is_dir()]
    assert len(folders) == 3
    assert inner / "here" in folders
    assert all(path.parent in (tmp_path, inner) for path in folders)
    assert len([path for path in made if path.is_file()]) == 6
    for path in made:
        assert path.name.isascii()
        assert len(path.name) <= 150
        assert not set(path.name) & set('/\\:*?"<>|\n $`;')
        assert not path.name.startswith((".", "-"))
    manifest = json.loads((inner / "here" / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["tune"] == title


@pytest.mark.parametrize(
    ("line", "place", "found"),
    [
        ("", "1:1", "title"),
        ('title = ""', "1:9", "empty"),
        ('title = "  "', "1:9", "empty"),
        ("title = 3", "1:9", "and this is 3"),
        ('title = "Bell\\u0007ringer"', "1:14", "U+0007"),
        ('title = "Two\\nlines"', "1:13", "U+000A"),
        ('title = "\\u0000"', "1:10", "U+0000"),
        (f'title = "{"x" * 1001}"', "1:9", "1001 characters"),
    ],
)
def test_a_title_that_cannot_be_printed_is_refused(line, place, found, accomp, good, tune, earlier):
    path = tune(good.replace('title = "Kettle Lane"', line))
    said = accomp("make", path, "--out", "out")
    assert said.code == 1
    assert f"tune.toml:{place}: " in said.err
    assert found in said.err
    assert "\x07" not in said.err
    earlier()


def test_two_tunes_of_one_title_stay_apart(accomp, good, tune, tmp_path):
    tune(name="one.toml")
    tune(good.replace("| C7 | C |", "| C7 | F |"), "two.toml")
    tune(good.replace("Kettle Lane", "kettle lane!"), "three.toml")
    said = accomp("make", "one.toml", "two.toml", "three.toml", "--out", "all", "--only", "midi")
    assert said.code == 0
    folders = sorted(path.name for path in (tmp_path / "all").iterdir())
    assert folders == ["kettle-lane-one", "kettle-lane-three", "kettle-lane-two"]
    made = [json.loads((tmp_path / "all" / f / "manifest.json").read_bytes()) for f in folders]
    assert sorted(m["tune"] for m in made) == ["Kettle Lane", "Kettle Lane", "kettle lane!"]
    assert len({m["files"][0]["sha256"] for m in made}) == 3
    # A tune that goes leaves its folder to nobody.
    before = (tmp_path / "all" / "kettle-lane-two" / "manifest.json").read_bytes()
    (tmp_path / "one.toml").unlink()
    assert accomp("make", "two.toml", "three.toml", "--out", "all", "--only", "midi").code == 0
    assert (tmp_path / "all" / "kettle-lane-two" / "manifest.json").read_bytes() == before


def test_the_second_of_one_title_does_not_take_the_place_of_a_tune_called_so(
    accomp, good, tune, tmp_path
):
    tune(name="one.toml")
    tune(name="two.toml")
    tune(good.replace("Kettle Lane", "Kettle Lane 2"), "three.toml")
    arguments = ("one.toml", "two.toml", "three.toml", "--out", "all", "--only", "midi")
    assert accomp("make", *arguments).code == 0
    assert len(list((tmp_path / "all").iterdir())) == 3
