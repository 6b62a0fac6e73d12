"""Files that are no tunes at all: what is said, and that nothing else happens."""

import pytest
from cli_refused import refuse


def test_a_file_that_is_not_there(accomp, earlier, tune):
    tune(name="lane.toml")
    refuse(accomp, earlier, "lnae.toml", "there is no such file", "Did you mean", "lane.toml")


def test_a_folder_without_tunes(accomp, earlier, tmp_path):
    (tmp_path / "tunes").mkdir()
    said = accomp("make", "tunes", "--out", "out")
    assert (said.code, said.out) == (1, "")
    assert "tunes: there is no tune file (.toml) in this folder." in said.err
    earlier()
    said = accomp("check", "tunes")
    assert said.code == 1
    assert "this is a folder" in said.err


def test_not_utf_8(accomp, earlier, good, tmp_path):
    text = good.replace("Kettle Lane", "Café Lane")
    (tmp_path / "old.toml").write_bytes(text.encode("latin-1"))
    refuse(accomp, earlier, "old.toml", "old.toml:1:13: ", "UTF-8", "0xe9", "Save it as UTF-8")


@pytest.mark.parametrize("text", ["", "\n \n", "\ufeff"])
def test_empty(text, accomp, earlier, tune):
    tune(text, "nothing.toml")
    refuse(accomp, earlier, "nothing.toml", "nothing.toml:1:1: ", "the file is empty")


def test_ten_megabytes(accomp, earlier, good, tmp_path):
    (tmp_path / "big.toml").write_bytes(good.encode() + b"# and so on\n" * 900_000)
    refuse(accomp, earlier, "big.toml", "larger than", "Is it the right file?")


def test_bytes_of_another_kind_of_file(accomp, earlier, tmp_path):
    (tmp_path / "photo.toml").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(range(256)))
    refuse(accomp, earlier, "photo.toml", "photo.toml:1:1: ", "UTF-8", "0x89")


def test_nul_bytes_in_the_text(accomp, earlier, good, tune):
    tune(good.replace("120", "1\x000"), "nul.toml")
    refuse(accomp, earlier, "nul.toml", "nul.toml:4:10: ")


def test_a_file_stands_where_the_folder_would_go(accomp, tune, tmp_path):
    (tmp_path / "taken").write_text("mine")
    for out in ("taken", "taken/inner"):
        said = accomp("make", tune(), "--out", out, "--only", "midi")
        assert said.code == 1
        assert "--out" in said.err
    assert (tmp_path / "taken").read_text() == "mine"


@pytest.mark.parametrize(
    ("name", "right", "wrong", "place", "words"),
    [
        ("costs.toml", "[shape]\nbarre = 0.5\n[change]\nshift = 1",
         "[change]\nshift = -1\nbarre = 2",
         ("2:9", "3:1"), ("and this is -1. The nearest is 0.", "'barre' is not known here")),
        ("hand.toml", "comfort = 70\ngreatest = 90", "comfort = 95\ngreatest = 90",
         ("1:11",), ("'comfort' must be at most the greatest reach, 90", "The nearest is 90")),
    ],
)  # fmt: skip
def test_cost_and_hand_files_are_checked_too(name, right, wrong, place, words, accomp, tmp_path):
    (tmp_path / name).write_text(right)
    said = accomp("check", name)
    assert (said.code, said.out, said.err) == (0, "1 file is good.\n", "")
    (tmp_path / name).write_text(wrong)
    said = accomp("check", name)
    assert (said.code, said.out) == (1, "")
    assert len(said.err.splitlines()) == len(place)
    for one in (*(f"{name}:{at}: " for at in place), *words):
        assert one in said.err
