"""A band book without engraving it: what is read, who is in it, what decides its pages, what is
kept."""

from __future__ import annotations

import gzip
import hashlib
import json
import os
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from jobs import TEXT

from accomp.errors import InputError, OutputError, Problem
from accomp.files.toml import read_toml
from accomp.job import book, book_pages
from accomp.job.book import BookItem
from accomp.job.book_pages import PagesItem, options_for, read_pages, tidy_cache
from accomp.job.book_read import (
    BookFile,
    WholeBook,
    read_book,
    read_book_file,
    tune_files,
    tunes_of,
    with_players,
)
from accomp.job.manifest import Label
from accomp.score.readers import READERS


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "tunes"
    made.mkdir()
    for name, title in (("b", "Amber"), ("a", "zebra"), ("c", "Kettle")):
        (made / f"{name}.toml").write_text(TEXT.replace("Small Tune", title), "utf-8")
    return made


def said(text: str, folder: Path) -> tuple[BookFile, list[Problem], list[Problem]]:
    (folder / "book.toml").write_text(text, "utf-8")
    file, wrong, missing = read_book_file(read_toml(folder / "book.toml"))
    return file, list(wrong), list(missing)


def test_what_holds_where_book_toml_says_nothing(folder: Path) -> None:
    file, wrong, missing = said("# nothing\n", folder)
    assert file == BookFile()
    assert (file.title, file.paper, file.boxes, file.part) == ("", None, "top", "both")
    assert file.players == ("own", *READERS)
    assert (file.pages, file.order, dict(file.keys)) == (None, None, {})
    assert wrong == missing == []
    plan = read_book(folder)
    assert (plan.title, plan.paper, plan.problems, plan.notices) == ("tunes", "a4", (), ())
    assert [one.name for one in plan.tunes] == ["b", "c", "a"]  # by title, whatever its letters
    assert read_book(folder, "letter").paper == "letter"


def test_what_book_toml_says(folder: Path) -> None:
    file, wrong, missing = said(
        'title = "Ours"\npaper = "letter"\nboxes = "none"\npart = "tab"\n'
        'players = ["Bb", "own", "Bb", "mandolin"]\npages = ["lesson", "chart", "lesson"]\n'
        'order = ["c.toml", "a", "c"]\n[keys]\na = "all"\nc = ["F", "Bb"]\n"b.toml" = "G"\n',
        folder,
    )
    assert wrong == missing == []
    assert file == BookFile(
        "Ours", "letter", "none", "tab", ("Bb", "own", "mandolin"), ("lesson", "chart"),
        ("c", "a"), {"a": ("all",), "c": ("F", "Bb"), "b": ("G",)},
    )  # fmt: skip
    plan = read_book(folder, "a4")
    assert plan.paper == "letter"
    assert [(one.name, one.keys) for one in plan.tunes] == [("c", ("F", "Bb")), ("a", ("all",))]
    assert (plan.boxes, plan.part, plan.pages) == ("none", "tab", ("lesson", "chart"))


def test_a_tune_that_is_not_there_is_told_in_its_place(folder: Path) -> None:
    _, wrong, missing = said('order = ["a", "cc", "zzzzzz"]\n[keys]\nnone = "F"\n', folder)
    assert wrong == []
    assert [(one.line, one.column, one.found, one.hint) for one in missing] == [
        (1, 15, "cc", "Did you mean 'c'?"), (1, 21, "zzzzzz", "Put zzzzzz.toml into the folder."),
        (3, 1, "none", "Put none.toml into the folder."),
    ]  # fmt: skip
    assert missing[0].message == "there is no tune 'cc' in this folder."
    assert missing[0].expected == "the name of a tune file"
    (folder / "book.toml").write_text('order = ["zzzzzz"]\n')
    plan = read_book(folder)
    assert plan.tunes == ()
    assert len(plan.problems) == 1


def test_which_files_of_a_folder_are_tunes(folder: Path) -> None:
    (folder / "style.toml").write_text(
        'title = "S"\nmeter = "4/4"\ntempo = [60, 200]\n[strum]\ncount = "1 2 3 4"\n'
    )
    (folder / "broken.toml").write_text("title = ")
    (folder / "odd.toml").write_text("what = 1\n")
    (folder / "note.txt").write_text("x")
    (folder / "book.toml").write_text("")
    assert list(tune_files(folder)) == ["a", "b", "broken", "c", "odd"]
    assert list(tune_files(folder, ["style", "b"])) == ["b", "style"]
    assert [path.name for path in tunes_of(folder)][:2] == ["a.toml", "b.toml"]
    empty = folder / "empty"
    empty.mkdir()
    with pytest.raises(InputError) as caught:
        tunes_of(empty)
    assert caught.value.problems == (
        Problem(
            "there is no tune file (.toml) in this folder.", str(empty), expected="tune files",
            hint="README.md shows one.", helps=("read_a_leadsheet",),
        ),
    )  # fmt: skip
    with pytest.raises(InputError) as caught:
        tune_files(folder / "gone")
    (problem,) = caught.value.problems
    assert problem.message == "no such file or directory."
    assert problem.hint == "Name a folder that holds tune files."


def test_players_are_known_by_name(folder: Path) -> None:
    plan = read_book(folder)
    assert with_players(plan, ["Bb", "own", "Bb", "ukulele"]).players == ("Bb", "own", "ukulele")
    with pytest.raises(InputError) as caught:
        with_players(plan, ["Cb", "ukulele", "mandolina", "qqqqqq"])
    assert [(one.found, one.setting) for one in caught.value.problems] == [
        ("Cb", "players"), ("mandolina", "players"), ("qqqqqq", "players"),
    ]  # fmt: skip
    assert caught.value.problems[1].message == "'mandolina' is no player."
    assert caught.value.problems[1].hint == "Did you mean 'mandolin'?"
    assert caught.value.problems[2].hint.startswith("Choose from own, concert, Bb, Eb, bass, ")


def test_tunes_of_one_title_are_told(folder: Path) -> None:
    (folder / "d.toml").write_text((folder / "c.toml").read_text())
    (folder / "e.toml").write_text((folder / "c.toml").read_text())
    assert read_book(folder).notices == (
        "c.toml and d.toml and e.toml have the same title, 'Kettle'; both are in the book.",
    )


def test_how_a_players_book_is_called(folder: Path) -> None:
    plan = replace(read_book(folder), title="Our Band")
    names = {
        "Bb": ("our-band_Bb.pdf", "B♭ instruments"), "Eb": ("our-band_Eb.pdf", "E♭ instruments"),
        "concert": ("our-band_concert.pdf", "Concert pitch"),
        "bass": ("our-band_bass-clef.pdf", "Bass clef"),
        "mandolin": ("our-band_mandolin.pdf", "Mandolin"),
        "own": ("our-band_tenor-banjo.pdf", "Tenor banjo"),
    }  # fmt: skip
    for player, (file, title) in names.items():
        assert (book._file(player, plan), book._named(player, plan)[1]) == (file, title)
    ukulele = replace(plan.tunes[0], tune=replace(plan.tunes[0].tune, instrument="ukulele"))
    mixed = replace(plan, tunes=(ukulele, *plan.tunes[1:]))
    assert book._named("own", mixed) == ("strummed", "Strummed parts")
    mine = replace(plan.tunes[0], tune=replace(plan.tunes[0].tune, instrument="mine.toml"))
    assert book._named("own", replace(plan, tunes=(mine,))) == ("strummed", "Strummed parts")


def test_what_is_asked_for_a_player() -> None:
    assert options_for("own", ("F",)).instrument is None
    assert options_for("own", ("F",)).keys == ("F",)
    for name in READERS:
        assert options_for(name, ()).instrument is None
    assert options_for("mandolin", ()).instrument == "mandolin"


LABEL = Label("pages", "book")


def pages_item(path: Path, **more: Any) -> PagesItem:
    values: dict[str, Any] = {
        "path": path, "key": "C", "players": ("own", "Bb"), "pages": None, "paper": "a4",
        "boxes": "top", "part": "both", "known": "k", "again": False,
    }  # fmt: skip
    return PagesItem(labels={"T, C": LABEL}, **(values | more))


def test_all_that_decides_a_tunes_pages_is_among_their_inputs(folder: Path) -> None:
    path = folder / "a.toml"
    base = pages_item(path)
    others = [
        pages_item(folder / "b.toml"), pages_item(path, key="D"),
        pages_item(path, players=("own",)),
        pages_item(path, pages=("chart",)), pages_item(path, paper="letter"),
        pages_item(path, boxes="none"), pages_item(path, part="tab"), pages_item(path, known="x"),
    ]  # fmt: skip
    assert len({one.inputs for one in (base, *others)}) == len(others) + 1
    assert pages_item(path, again=True).inputs == base.inputs
    assert base.weight == 1.5
    assert pages_item(path, players=()).weight == 1.0
    path.write_text(path.read_text() + "# more\n")
    assert pages_item(path).inputs != base.inputs
    one = BookItem({"a.pdf": LABEL}, "T", "own", "Own", "a4", (path, path), ("1", "2"))
    changes: list[dict[str, Any]] = [
        {"title": "x"}, {"player": "x"}, {"player_title": "x"}, {"paper": "x"},
        {"made_from": ("2", "1")}, {"labels": {"b.pdf": LABEL}},
    ]  # fmt: skip
    every = {one.inputs, *(replace(one, **change).inputs for change in changes)}
    assert len(every) == len(changes) + 1
    assert replace(one, sources=()).inputs == one.inputs
    assert one.weight == pytest.approx(0.9)


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(book_pages, "cache_folder", lambda: tmp_path / "cache")
    return tmp_path / "cache" / "pages"


def test_pages_are_kept_and_found_again_as_they_were(kept: Path) -> None:
    assert book_pages._fetch("a") is None
    book_pages._keep("a", b"pages" * 100)
    path = kept / "a.pages"
    data = path.read_bytes()
    assert data[:32] == hashlib.sha256(data[32:]).digest()
    assert gzip.decompress(data[32:]) == b"pages" * 100
    os.utime(path, (1, 1))
    assert book_pages._fetch("a") == b"pages" * 100
    assert path.stat().st_mtime > 1  # it was asked for
    for damaged in (data[:-1], b"x" * 32 + data[32:], b"", data[:31]):
        path.write_bytes(damaged)
        assert book_pages._fetch("a") is None
    bad = b"no gzip"
    path.write_bytes(hashlib.sha256(bad).digest() + bad)
    assert book_pages._fetch("a") is None
    assert [entry.name for entry in kept.iterdir()] == ["a.pages"]


def test_what_was_not_asked_for_longest_goes_first(
    kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tidy_cache()  # nothing is there yet
    kept.mkdir(parents=True)
    for age in range(1, 5):
        path = kept / f"{age}.pages"
        path.write_bytes(b"x" * 10)
        os.utime(path, (1000 - age, 1000 - age))
    assert book_pages.MOST_BYTES == 200_000_000
    for most, left in ((40, 4), (39, 3), (20, 2), (9, 0)):
        monkeypatch.setattr(book_pages, "MOST_BYTES", most)
        tidy_cache()
        assert sorted(entry.stem for entry in kept.iterdir()) == list("1234"[:left])


DOCUMENT = {"pages": {"own": [1]}, "pictures": {}, "notices": ["n"], "problems": []}


def test_pages_that_are_there_are_not_made_again(
    folder: Path, kept: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[str] = []
    document: dict[str, Any] = dict(DOCUMENT)

    def make(item: PagesItem, progress: Any) -> dict[str, Any]:
        made.append(item.key)
        return document

    monkeypatch.setattr(PagesItem, "_made", make)
    item, path = pages_item(folder / "a.toml"), tmp_path / "out"
    shares: list[float] = []
    for _ in range(2):
        item.write({"T, C": path}, shares.append)
        assert json.loads(path.read_text()) == DOCUMENT
    assert made == ["C"]
    assert shares == [0.0, 0.0]
    pages_item(folder / "a.toml", again=True).write({"T, C": path}, shares.append)
    assert len(made) == 2
    document["problems"] = [{"message": "no", "helps": ["a"]}]
    other = pages_item(folder / "b.toml")
    for _ in range(2):  # what failed is not kept
        other.write({"T, C": path}, shares.append)
    assert len(made) == 4
    assert read_pages(path)["problems"] == [Problem("no", helps=("a",))]
    assert item.usable({"x": path})
    for damaged in ("", "[]", "{}", '{"problems": [{"message": 1}]}', '{"problems": [1]}'):
        path.write_text(damaged)
        assert not item.usable({"x": path})
    assert not item.usable({"x": tmp_path / "gone"})


def test_each_instrument_is_planned_once_for_all_its_players(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    planned: list[tuple[Any, Any]] = []
    added: list[tuple[Any, str]] = []

    def version(tune: Any, options: Any) -> Any:
        planned.append((options.instrument, options.keys))
        return options.instrument

    def add(item: PagesItem, document: dict[str, Any], version: Any, player: str) -> None:
        if player == "full":
            raise OutputError("full")
        if player == "odd":
            raise ZeroDivisionError("odd")
        added.append((version, player))
        document["pages"][player] = []

    monkeypatch.setattr(book_pages, "_version", version)
    monkeypatch.setattr(PagesItem, "_add", add)
    item = pages_item(folder / "a.toml", players=("own", "Bb", "mandolin", "bass"))
    shares: list[float] = []
    document = item._made(shares.append)
    assert planned == [(None, ("C",)), ("mandolin", ("C",))]
    assert added == [(None, "own"), (None, "Bb"), ("mandolin", "mandolin"), (None, "bass")]
    assert shares == [0.25, 0.5, 0.75, 1.0]
    assert document["problems"] == []
    with pytest.raises(OutputError):
        pages_item(folder / "a.toml", players=("full",))._made(shares.append)
    (row,) = pages_item(folder / "a.toml", players=("odd",))._made(shares.append)["problems"]
    assert row["file"] == str(folder / "a.toml")
    assert "ZeroDivisionError" in row["message"]


def test_a_players_book_is_packed_tune_by_tune(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sources = []
    for number in range(4):
        sources.append(tmp_path / str(number))
        pages = {"own": [number]} if number else {}
        document = DOCUMENT | {"pages": pages, "pictures": {"own": {"p": number}} if number else {}}
        sources[-1].write_text(json.dumps(document))
    seen: list[Any] = []

    def write(title: str, player: str, entries: Any, path: Path, *, paper: Any) -> tuple[str, ...]:
        seen.append((title, player, str(paper), [(one.pages, one.pictures) for one in entries]))
        path.write_bytes(b"%PDF")
        return ("said",)

    monkeypatch.setattr("accomp.write.book.write_book", write)
    item = BookItem({"a.pdf": LABEL}, "T", "own", "Own", "letter", tuple(sources), ("1",))
    shares: list[float] = []
    outcome = item.write({"a.pdf": tmp_path / "a.pdf"}, shares.append)
    assert outcome.notices == ("said",)
    assert seen == [("T", "Own", "letter", [
        ([], {}), ([1], {"p": 1}), ([2], {"p": 2}), ([3], {"p": 3}),
    ])]  # fmt: skip
    assert shares == pytest.approx([0.0, 0.0, 0.2, 0.4, 0.6])


def test_a_tune_is_printed_in_its_keys_and_known_by_all_it_needs(folder: Path) -> None:
    plan: WholeBook = read_book(folder)
    one = replace(plan.tunes[0], keys=("F", "Bb"))
    problems: list[Problem] = []
    wrong = replace(plan.tunes[1], keys=("H",))
    items = book._pages_items(replace(plan, tunes=(one, wrong)), problems, True)
    assert [(item.key, list(item.labels)) for item in items] == [
        ("F", ["Amber, F"]), ("Bb", ["Amber, Bb"]),
    ]  # fmt: skip
    assert [(problem.found, problem.setting) for problem in problems] == [("H", "keys")]
    assert items[0].again
    assert items[0].players == plan.players
    known = items[0].known
    assert known.count("\n") == 0  # one instrument, one style for all
    two = book._needed(plan.tunes[0], replace(plan, players=("own", "mandolin")))
    assert two[0].count("\n") == 1
    assert two[1] == ("C",)


def test_a_book_without_a_tune_is_told_with_every_problem(folder: Path, tmp_path: Path) -> None:
    plan = replace(read_book(folder), tunes=(), problems=(Problem("a"), Problem("a"), Problem("b")))
    with pytest.raises(InputError) as caught:
        book.make_book(plan, tmp_path / "out")
    assert [problem.message for problem in caught.value.problems] == ["a", "b"]
    assert (book._ENGRAVING, book._PACKING) == (0.85, 0.8)
    assert not (tmp_path / "out").exists()
