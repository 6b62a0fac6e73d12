"""Heads, words, patterns, books, and what the typesetter is given."""

from __future__ import annotations

import itertools
import json
import math
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from hand_made import BANJO, FOUR, GUITAR, arrangement, shape

from accomp.harmony import parse_chord
from accomp.rhythm import find_style
from accomp.score.notate import notate
from accomp.score.notate_layout import ScoreLayout
from accomp.score.written import Barline
from accomp.time import Meter
from accomp.write import (
    book,
    page_text,
    pages,
    sheet_fit,
    sheet_lesson,
    sheet_pattern,
    sheet_tune,
)
from accomp.write.page_text import PageText
from accomp.write.pages import PageMaterials, PageSet, Pictures, Typesetting

# The head


@pytest.mark.parametrize(
    ("text", "most", "short"),
    [
        ("abcdef", 6, "abcdef"),
        ("abcdefg", 6, "abcde…"),
        ("abcd efg", 7, "abcd e…"),
        ("abcde fgh", 8, "abcde…"),
        ("abc defghij", 5, "abc …"),
        ("", 5, ""),
    ],
)
def test_a_text_is_cut_at_a_word_where_that_is_near(text, most, short):
    assert sheet_tune.shortened(text, most) == short


@pytest.mark.parametrize(
    ("length", "size"), [(0, 25.0), (44, 25.0), (50, 22.0), (84, 1100 / 84), (85, 13.0)]
)
def test_the_size_of_a_title(length, size):
    assert sheet_tune._title_pt("x" * length) == pytest.approx(size)


@pytest.mark.parametrize(
    ("title", "composer", "lines"),
    [("", "", 1), ("x" * 20, "", 1), ("x" * 60, "", 2), ("x" * 60, "x" * 30, 3), ("x" * 99, "", 2),
     ("x" * 99, "x" * 95, 9)],
)  # fmt: skip
def test_how_high_a_title_is(title, composer, lines):
    """8.3 mm for what is under it; a line 0.66 ems, the white between two 0.6."""
    made = replace(arrangement([("F", "0 2 3 3")]), title=title, composer=composer)
    em_mm = sheet_tune._title_pt(title) * 25.4 / 72
    beside = 0.54 * len(composer) * 10 * 25.4 / 72 + 8
    room = max(30.0, 180.0 - beside)
    assert (math.ceil(0.54 * len(title) * em_mm * 1.1 / room) or 1) == lines
    expected = 8.3 + em_mm * (0.66 * lines + 0.6 * (lines - 1))
    assert sheet_tune.title_mm(made, 180.0) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("meter", "tempo", "data"),
    [
        ("4/4", 168.0, ("quarter", False, "168")), ("2/2", 84.5, ("half", False, "84.5")),
        ("6/8", 100.0, ("quarter", True, "100")), ("6/4", 60.0, ("half", True, "60")),
        ("3/8", 60.0, ("quarter", True, "60")),
    ],
)  # fmt: skip
def test_the_metronome_mark_on_a_page(meter, tempo, data):
    strokes = [("0", str(Meter.parse(meter).bar), "down", "plain", "ring", "all")]
    made = arrangement([("F", "0 2 3 3")], strokes, meter=meter, tempo=tempo)
    found = sheet_tune.tempo_data(made)
    assert tuple(found[key] for key in ("value", "dotted", "number")) == data


def test_boxes_are_measured_by_one_of_four_strings():
    pictures = Pictures()
    rows = [
        (parse_chord("Bb"), shape(BANJO, "Bb", "5 7 8 8")),
        ("said", shape(GUITAR, "F", "1 3 3 2 1 1")),
    ]
    one, other = sheet_tune.box_data(rows, pictures)
    assert (one["scale"], one["high"]) == (1.0, 88 / 63)
    assert (other["scale"], other["high"]) == (85 / 63, 88 / 63)
    assert ">B♭<" in pictures.files[one["picture"]]
    assert ">said<" in pictures.files[other["picture"]]
    assert pictures.add("<svg/>") == pictures.add("<svg/>")
    assert len(pictures.files) == 3
    assert all(len(name) == 28 for name in pictures.files)


# Text


def test_notices_of_lost_signs_say_each_once():
    text = PageText()
    assert text(" a\u2066\u06e1 🎷🎺\x07 b ", "The title") == "a ��� b"
    assert text("🎷", "The section") == "�"
    assert text.notices == (
        "The title has signs that the page fonts lack (🎷, 🎺, U+0007): "
        "a replacement mark is printed for each.",
        "The section has signs that the page fonts lack (🎷): "
        "a replacement mark is printed for each.",
    )


@pytest.mark.parametrize(
    ("sentence", "printed"),
    [
        ("Bb, Eb7 and F#m7b5: yes", "B♭, E♭7 and F♯m7♭5: yes"),
        ("aBb /Bb", "aBb /Bb"),
        ("Hb and Ab.", "Hb and A♭."),
        ("C and Am7", "C and Am7"),
        ("Cb5zz#", "Cb5zz#"),
        ("A club", "A club"),
    ],
)
def test_chords_in_sentences_are_printed(sentence, printed):
    assert page_text.sentence_text(sentence) == printed


@pytest.mark.parametrize(
    ("text", "ems"),
    [("", 0), ("m", 0.82), ("M", 0.85), ("Δ", 0.72), ("♭♯", 0.95), ("/()", 1.12), ("A", 0.72),
     ("7", 0.5), ("a", 0.54), ("B♭m7", 0.72 + 0.45 + 0.82 + 0.5)],
)  # fmt: skip
def test_widths_of_signs(text, ems):
    assert page_text.ems(text) == pytest.approx(ems)


def test_choices_of_strings_in_words():
    found = [page_text.strings_text(one) for one in ("all", "low2", "high13", "low", "2", "low2x")]
    assert found == ["", "low 2", "high 13", "low", "2", "low2x"]


def test_the_table_of_signs_is_of_single_ones_and_ranges(monkeypatch):
    table = {"signs": "20-22 41 10ff00-10ff01"}
    monkeypatch.setattr(page_text, "package_data", lambda name: table)
    found = page_text.printable_signs.__wrapped__()
    assert found == {0x20, 0x21, 0x22, 0x41, 0x10FF00, 0x10FF01}


# Lessons


def test_every_shape_of_a_lesson_counts_for_its_signs():
    one, two, three, four = "abcd"
    page = SimpleNamespace(
        grips=[SimpleNamespace(places=[SimpleNamespace(shape=one)])],
        changes=[SimpleNamespace(from_shape=two, to_shape=three)],
        learn_next=[SimpleNamespace(by_shape=[(four, ())])],
    )
    assert list(sheet_lesson._shapes(page)) == [one, two, three, four]


# The pattern of a style


def test_a_pattern_s_columns_and_counts():
    found = sheet_pattern.pattern_data(find_style("two-beat"), 100.0)
    assert found is not None
    assert found["step-mm"] == min(10.0, 86.0 / found["columns"])
    assert found["width-mm"] == found["step-mm"] * found["columns"] + 12.0
    assert [one["at"] for one in found["counts"]] == sorted(one["at"] for one in found["counts"])
    narrow = sheet_pattern.pattern_data(find_style("two-beat"), 40.0)
    assert narrow is not None
    assert narrow["step-mm"] == pytest.approx(26.0 / found["columns"])


# The typesetter's table


def test_what_the_typesetter_is_given(tmp_path: Path):
    table = Typesetting(tmp_path)
    made = PageSet("T♭", [{"kind": "x"}], "letter", book=True)
    assert table.laid_out(made, {"a.svg": "♭"}) == tmp_path / "pages.typ"
    assert json.loads((tmp_path / "data.json").read_text("utf-8")) == {
        "title": "T♭", "paper": "us-letter", "book": True, "inset": False,
        "pages": [{"kind": "x"}],
    }  # fmt: skip
    assert (tmp_path / "a.svg").read_text("utf-8") == "♭"
    table.laid_out(PageSet("", [], inset=True), {})
    data = json.loads((tmp_path / "data.json").read_text("utf-8"))
    assert (data["paper"], data["book"], data["inset"]) == ("a4", None, True)
    assert (PageMaterials().width_mm, PageMaterials().height_mm) == (180.0, 262.0)
    assert PageMaterials("letter").width_mm == pytest.approx(185.9)


def test_pieces_are_taken_in_by_the_pages_on_which_they_stand(tmp_path: Path, monkeypatch):
    (tmp_path / "a.svg").write_text("x", encoding="utf-8")
    monkeypatch.setattr(pages, "_pdf", lambda materials: b"%PDF")
    monkeypatch.setattr(pages, "_places", lambda materials: ([1, 2, 5], 6))
    monkeypatch.setattr(Typesetting, "_set", lambda self, source, name, ask: ask(None))
    rows = [{"tune": n, "name": f"n{n}", "first": n == 0, "more": 1} for n in range(3)]
    found = Typesetting(tmp_path).piece(PageSet("", rows), {"a.svg": "x"}, "t1.pdf")
    assert [(one["from"], one["to"], one["name"], one["first"], one["tune"]) for one in found] == [
        (1, 1, "n0", True, 0), (2, 4, "n1", False, 1), (5, 6, "n2", False, 2),
    ]  # fmt: skip
    assert {one["kind"] for one in found} == {"piece"}
    assert all("more" not in one for one in found)
    assert (tmp_path / "t1.pdf").read_bytes() == b"%PDF"
    assert not (tmp_path / "a.svg").exists()


@pytest.mark.parametrize(
    ("stderr", "why"),
    [("one\nlast word\n", "last word"), ("", "it ended without a word; out of memory?")],
)
def test_a_book_that_cannot_be_set_says_why(stderr, why, tmp_path: Path, monkeypatch):
    from accomp.errors import OutputError

    done = SimpleNamespace(returncode=1, stderr=stderr)
    monkeypatch.setattr(pages.subprocess, "run", lambda *_, **__: done)
    with pytest.raises(OutputError) as caught:
        Typesetting(tmp_path).print_apart(PageSet("", []), tmp_path / "book.pdf")
    assert str(caught.value) == f"book.pdf: the book could not be set ({why})."


# Books


def entry(title: str, key: str, **more: Any) -> list[dict[str, Any]]:
    tune = {
        "title": title,
        "short": title[:9],
        "entry": f"{title}, {key}",
        "key": key,
        "label": None,
    }
    return [{"kind": "piece", "tune": tune | more}, {"kind": "piece", "tune": tune}]


def test_a_book_has_its_pages_in_order_and_two_indexes():
    entries = [
        entry("The Old Gate", "F major"), entry("a lamp", "B♭ major"), entry("Zebra", "C major"),
        entry("the", "C major"), entry("12 Bars", "C major"), entry("Old Gate", "C major"),
        entry("An Ox", "F major"), entry("Zebra", "A major"),
    ]  # fmt: skip
    made = book.book_pages("My Book", "N.", entries, PageText())
    cover, contents, *middle, by_title, by_key = made
    assert cover == {
        "kind": "cover", "title": "My Book", "title-size": 44.0, "player": "N.",
        "counted": "7 tunes",
    }  # fmt: skip
    assert [row["label"] for row in contents["entries"]] == [f"t{n}" for n in range(1, 9)]
    assert contents["entries"][0]["text"] == "The Old Gate, F major"
    assert [page["tune"]["label"] for page in middle] == list(
        itertools.chain.from_iterable((f"t{n}", None) for n in range(1, 9))
    )
    assert (by_title["first"], by_key["first"]) == (True, False)
    assert [(g["head"], [e["label"] for e in g["entries"]]) for g in by_title["groups"]] == [
        ("#", ["t5"]), ("L", ["t2"]), ("O", ["t6", "t1", "t7"]), ("T", ["t4"]), ("Z", ["t8", "t3"]),
    ]  # fmt: skip
    assert [(g["head"], [e["text"] for e in g["entries"]]) for g in by_key["groups"]] == [
        ("A major", ["Zebra"]), ("B♭ major", ["a lamp"]),
        ("C major", ["12 Bars", "Old Gate", "the", "Zebra"]), ("F major", ["The Old G", "An Ox"]),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("title", "shown", "size"),
    [("", "Band book", 44.0), ("x" * 34, "x" * 34, 44.0), ("x" * 40, "x" * 40, 37.5),
     ("x" * 84, "x" * 84, 18.0)],
)  # fmt: skip
def test_the_cover_of_a_book(title, shown, size):
    cover = book.book_pages(title, "N.", [entry("A", "C major")], PageText())[0]
    assert (cover["title"], cover["title-size"], cover["counted"]) == (shown, size, "1 tune")
    assert book.book_pages(title, "N.", [], PageText())[0]["counted"] == "0 tunes"


def test_titles_are_sorted_without_their_article():
    found = [book._sorting(one) for one in ("The A", "THE", "the ", "An Ox", "A", "A b", "Theme")]
    assert found == ["a", "the", "the ", "ox", "a", "b", "theme"]


def test_a_page_is_turned_where_it_costs_least_at_the_limit():
    """Two systems that just fill a page are one page."""
    space = sheet_fit.PageSpace(180.0, 40.0, 60.0)
    assert sheet_fit.paged([20.0, 20.0], space, {}) == (2,)
    assert sheet_fit.paged([20.0, 20.5], space, {}) == (1, 1)
    assert sheet_fit.paged([50.0, 20.0], space, {}) == (1, 1)
    # Of three on two pages: the first has 20 mm left or none, the second 40 or 20 of 60.
    assert sheet_fit.paged([20.0, 20.0, 20.0], space, {1: 0.0, 2: 0.0}) == (1, 2)
    assert sheet_fit.paged([20.0, 20.0, 20.0], space, {1: 0.4}) == (2, 1)
    layout = ScoreLayout("both", bass=False)
    bars = notate(arrangement([("F", "0 2 3 3")] * 3, FOUR), replace(layout, fold=False))
    measures = bars.parts[0].measures
    assert sheet_fit._turns(measures, (0, 1, 2)) == {1: 0.4, 2: 0.4}
    double = replace(measures[0], barline=Barline.DOUBLE)
    assert sheet_fit._turns((double, *measures[1:]), (0, 1)) == {1: 0.0}
