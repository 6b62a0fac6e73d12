"""`accomp book` at the command line: what it prints, and its exit codes."""

from __future__ import annotations

import json

import pytest


@pytest.fixture(autouse=True)
def own_cache(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / ".cache"))


@pytest.fixture
def folder(tmp_path, good):
    made = tmp_path / "band"
    made.mkdir()
    (made / "kettle.toml").write_text(good)
    return made


def test_a_book_is_made_and_named(accomp, folder, tmp_path):
    said = accomp("book", folder, "--player", "Bb", "--player", "concert")
    assert said.code == 0
    assert "band: 1 tune, 2 PDFs" in said.out
    made = tmp_path / "band-book"
    assert sorted(path.name for path in made.glob("*.pdf")) == ["band_Bb.pdf", "band_concert.pdf"]


def test_json_is_one_document_and_nothing_else(accomp, folder, tmp_path):
    said = accomp("book", folder, "--player", "Bb", "--out", tmp_path / "out", "--json")
    document = json.loads(said.out)
    assert document == json.loads((tmp_path / "out" / "manifest.json").read_text())
    assert [file["kind"] for file in document["files"]] == ["pdf"]


def test_broken_tunes_make_exit_code_1_and_the_rest(accomp, folder, good, tmp_path):
    (folder / "bad.toml").write_text(good.replace("| C7 | C |", "| C7 | Xy |"))
    said = accomp("book", folder, "--player", "Bb", "--out", tmp_path / "out")
    assert said.code == 1
    assert "bad.toml:10:8" in said.err
    assert "are not in the book" in said.err
    assert (tmp_path / "out" / "band_Bb.pdf").exists()


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("book", "nowhere"), 1, "nowhere"),
        (("book", "band", "--player", "Zither"), 2, "is no player"),
        (("book", "band", "--paper", "a3"), 2, "a3"),
        (("book", "band", "--jobs", "0"), 2, "jobs"),
        (("book",), 2, "FOLDER"),
    ],
)
def test_what_is_wrong_is_said(arguments, code, words, accomp, folder):
    said = accomp(*arguments)
    assert said.code == code
    assert words in said.err
