"""Paper from real tunes: meters and keys that change, and what the lesson sheet says."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from accomp.job.options import Options
from accomp.job.paper import lesson_text, sheet_item
from accomp.job.request import resolve
from accomp.job.versions import versions
from accomp.neck.handout import handouts
from accomp.score.notate import notate
from accomp.tune import read_tune
from accomp.write.musicxml import musicxml_bytes
from accomp.write.page_text import chord_text
from accomp.write.sheet import write_sheet

pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed")

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
CHANGING = """title = "Three Gates"
key = "F"
meter = "4/4"
tempo = 120
pickup = 1
form = ["A", "B", "A", "C"]

[sections]
A = "| F | C7 | F / C7 / | F |"
B = { bars = "| Bb | Eb | F7 | Bb |", key = "Bb", meter = "3/4" }
C = { bars = "| Dm | A7 | Dm | A7 |", key = "Dm", meter = "6/8" }
"""


@pytest.fixture
def version(tmp_path):
    (tmp_path / "tune.toml").write_text(CHANGING)
    tune = read_tune(tmp_path / "tune.toml")
    return versions(resolve(tune, Options(choruses=1)))[0]


def test_meters_and_keys_change_where_the_sections_do(version, tmp_path):
    """music21 as the reader."""
    from music21 import converter

    (tmp_path / "score.musicxml").write_bytes(musicxml_bytes(notate(version.on_paper)))
    score = converter.parse(tmp_path / "score.musicxml", forceSource=True)
    measures = list(score.parts[0].getElementsByClass("Measure"))
    meters = [(m.number, t.ratioString) for m in measures for t in m["TimeSignature"]]
    keys = [(m.number, k.sharps) for m in measures for k in m["KeySignature"]]
    assert meters == [(0, "4/4"), (5, "3/4"), (9, "4/4"), (13, "6/8")]
    # D minor at bar 13 has the same signature as F major before it
    assert [row for row in keys if row[0] != 13] == [(0, -1), (5, -2), (9, -1)]
    assert all(sharps == -1 for number, sharps in keys if number == 13)
    lengths = [float(measure.duration.quarterLength) for measure in measures]
    # The last A7 is brought home by a bar more.
    assert lengths == [1.0] + [4.0] * 4 + [3.0] * 4 + [4.0] * 4 + [3.0] * (4 + 1)


def sheet(tmp_path, **how):
    """The PDF of a tune's pages, as a job makes it, and the names of its bookmarks."""
    (tmp_path / "tune.toml").write_text(CHANGING)
    wanted = Options(choruses=1, **how)
    item = sheet_item(versions(resolve(read_tune(tmp_path / "tune.toml"), wanted))[0])
    item.write({"a": tmp_path / "a.pdf"}, lambda share: None)
    reader = pypdf.PdfReader(tmp_path / "a.pdf")
    return reader, [entry.title for entry in reader.outline[1]], item.inputs


@pytest.mark.slow
def test_the_pdf_has_the_parts_that_are_asked_for(tmp_path):
    _, names, usual = sheet(tmp_path)
    assert names[:2] == ["Chart", "Part"]
    assert all(name.startswith("Lesson: ") for name in names[2:])
    # A score's page has no bass, so that "both" is the same.
    assert sheet(tmp_path, parts=("score", "both"))[1:] == (names, usual)
    _, names, other = sheet(tmp_path, parts=("tab", "slash", "notation", "bass"))
    assert names[:5] == ["Chart", "TAB", "Slashes", "Notation", "Bass"]
    assert other != usual


@pytest.mark.long
def test_where_boxes_stand_decides_whether_pages_are_made_again(tmp_path):
    made = {boxes: sheet(tmp_path, boxes=boxes)[2] for boxes in ("top", "changes", "none")}
    assert len(set(made.values())) == 3


@pytest.mark.long
def test_a_slash_part_has_no_numbers_of_tab(tmp_path):
    def digits(parts):
        reader, names, _ = sheet(tmp_path, parts=parts, boxes="none")
        assert names[1] == "Part"
        return len(re.findall(r"\b\d+\b", reader.pages[1].extract_text()))

    assert digits(("slash",)) < 20 < digits(("tab",))


def text_of(path) -> str:
    pages = pypdf.PdfReader(path).pages
    return re.sub(r"\s+", " ", "\n".join(page.extract_text() for page in pages))


@pytest.mark.slow
def test_the_lesson_sheet_says_what_the_planner_taught(version, tmp_path):
    taught = lesson_text(version)
    path = tmp_path / "lesson.pdf"
    assert write_sheet(version.on_paper, path, pages=("lesson",), lesson=taught) == ()
    pages = [page.extract_text() for page in pypdf.PdfReader(path).pages]
    handed = handouts(taught.lesson, 4, taught.comfort_mm)
    assert handed[0].plan.name == version.position
    # One page each, with all that the hand-out says, a hyphen at a line's end or not.
    for page, text in zip(handed, pages, strict=True):
        close = plain(text)
        for words in page.texts(chord_text):
            assert plain(words) in close, words
    assert len(handed) == len(version.neck.every)


def plain(text: str) -> str:
    return re.sub(r"[\s-]", "", text)


def test_three_changes_are_drawn_to_be_drilled_and_every_grip(version):
    from accomp.write.pages import PageMaterials
    from accomp.write.sheet_lesson import lesson_pages
    from accomp.write.sheet_tune import PageAddress

    taught = lesson_text(version)
    materials = PageMaterials()
    pages = list(lesson_pages(version.on_paper, taught, materials, PageAddress()))
    for page, position in zip(pages, taught.lesson.positions, strict=True):
        assert len(page["changes"]) == 3
        pairs = [tuple(box["picture"] for box in one["boxes"]) for one in page["changes"]]
        assert len({frozenset(pair) for pair in pairs}) == 3
        assert all(len(pair) == 2 for pair in pairs)
        boxes = [box["picture"] for grip in page["grips"] for box in grip["boxes"]]
        assert len(set(boxes)) == len({shape.shape.frets for shape in position.shapes})
        assert {name for pair in pairs for name in pair} | set(
            boxes
        ) <= materials.pictures.files.keys()
    assert [page["first"] for page in pages] == [True] + [False] * (len(pages) - 1)


def test_a_book_has_the_pages_of_the_positions_that_are_played(version):
    played = [plan.name for plan in version.plans]
    taught = lesson_text(version, every=False)
    assert [one.plan.name for one in taught.lesson.positions] == list(dict.fromkeys(played))


@pytest.mark.slow
@pytest.mark.many(1)
@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize(
    ("name", "instrument"),
    [
        ("wide-water", "guitar"),
        ("clinker-yard-lament", "tenor-banjo"),
        ("seven-stiles", "mandolin"),
    ],
)
def test_a_hand_out_is_one_page_however_much_stands_on_it(name, instrument, paper, tmp_path):
    tune = read_tune(EXAMPLES / f"{name}.toml")
    (version,) = versions(resolve(tune, Options(instrument=instrument, choruses=1)))
    taught = lesson_text(version)
    path = tmp_path / "lesson.pdf"
    write_sheet(version.on_paper, path, pages=("lesson",), lesson=taught, paper=paper)
    pages = [page.extract_text() for page in pypdf.PdfReader(path).pages]
    assert len(pages) == len(taught.lesson.positions)
    for one, text in zip(taught.lesson.positions, pages, strict=True):
        assert f"{one.plan.name} position" in re.sub(r"\s+", " ", text)


def test_the_whole_sheet_has_chart_part_and_lesson(version, tmp_path):
    path = tmp_path / "sheet.pdf"
    write_sheet(version.on_paper, path, lesson=lesson_text(version))
    outline = pypdf.PdfReader(path).outline
    lessons = [f"Lesson: {plan.name}" for plan in version.neck.every]
    named = [entry.title for entry in outline[1]]
    assert named[:3] == ["Chart", "Part", f"Lesson: {version.position}"]
    assert sorted(named[2:]) == sorted(lessons)
