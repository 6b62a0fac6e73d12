"""Whole folders of tunes."""

from __future__ import annotations

import json


def test_a_folder_stands_for_the_tunes_in_it_and_a_fault_stays_that_tunes(accomp, good, tmp_path):
    shelf = tmp_path / "shelf"
    (shelf / "deeper").mkdir(parents=True)
    (shelf / "one.toml").write_text(good)
    (shelf / "two.toml").write_text(good.replace("Kettle Lane", "Pump Lane"))
    (shelf / "torn.toml").write_text(good.replace('"C"', '"H"'))
    (shelf / "deeper" / "three.toml").write_text(good)
    (shelf / "notes.txt").write_text("no tune")
    assert accomp("styles", "waltz", "--write", shelf / "waltz.toml").code == 0
    words = ("make", "shelf", "shelf/two.toml", "--only", "midi", "--out", "out")
    said = accomp(*words)
    assert said.code == 1
    assert "shelf/torn.toml:2:7" in said.err
    assert "2 of 3 tunes made." in said.err
    assert "waltz" not in said.err
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [
        "kettle-lane",
        "pump-lane",
    ]
    rows = json.loads(accomp(*words, "--json").out)
    assert [row.get("tune") or row["file"] for row in rows] == [
        "Kettle Lane",
        "shelf/torn.toml",
        "Pump Lane",
    ]


def test_a_folder_of_one_tune_is_a_folder_and_one_without_tunes_is_told(accomp, good, tmp_path):
    (tmp_path / "shelf").mkdir()
    said = accomp("make", "shelf", "--only", "midi", "--out", "out")
    assert said.code == 1
    assert "shelf: there is no tune file (.toml) in this folder." in said.err
    (tmp_path / "shelf" / "one.toml").write_text(good)
    assert accomp("make", "shelf", "--only", "midi", "--out", "out").code == 0
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["kettle-lane"]
    (tmp_path / "shelf" / "one.toml").unlink()
    said = accomp("make", "shelf", "--json")
    assert json.loads(said.out)[0]["problems"][0]["file"] == "shelf"
