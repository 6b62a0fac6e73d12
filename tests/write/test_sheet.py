"""Pages as PDF: what is on them, read back by pypdf and poppler, and seen as pictures.

Sources: ISO 32000 through pypdf; poppler's pdftotext for the places of words, where installed.
"""

from __future__ import annotations

import io
import re
from dataclasses import replace

import numpy
import pytest
from approve_pictures import page_pngs
from hand_made import FOUR, GUITAR, arrangement
from page_words import POPPLER, assert_no_words_overlap, words
from PIL import Image

from accomp.score.notate_layout import ScoreLayout
from accomp.write.formats import PAPER_MM
from accomp.write.pages import BOTTOM_MM, SIDE_MM, TOP_MM, PageMaterials
from accomp.write.sheet import tune_pages, write_sheet
from accomp.write.sheet_tune import OWN, Printing

pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed")

CHORDS = [
    ("F", "0 2 3 3"),
    [("Bb7", "5 7 8 6", "1/2"), ("Bdim7", "5 7 6 8", "1/2")],
    [("F/C", "5 5 7 8", "1/2"), ("F#m7b5", "4 5 4 7", "1/2")],
    ("N.C.", ""),
] * 4
SYMBOLS = ["F", "B♭7", "Bdim7", "F/C", "F♯m7♭5", "N.C."]
B_FLAT = Printing((ScoreLayout("slash", False, "Bb"),))
SECTIONS = ["Verse"] * 8 + ["Bridge"] * 8


def tune(**more):
    return arrangement(CHORDS, FOUR, sections=SECTIONS, **more)


def read(arranged, tmp_path, **how):
    path = tmp_path / "sheet.pdf"
    notices = write_sheet(arranged, path, **how)
    return pypdf.PdfReader(path), notices


def text_of(reader):
    return "\n".join(page.extract_text() for page in reader.pages)


@pytest.mark.parametrize("page", ["chart", "part"])
def test_every_chord_and_the_title_are_text(page, tmp_path):
    reader, notices = read(tune(), tmp_path, pages=(page,))
    text = text_of(reader)
    assert "Harbour Street Parade" in text
    assert "F major" in text
    together = re.sub(r"\s+", "", text)
    for symbol in SYMBOLS:
        assert symbol in together
    assert notices == ()
    assert not re.search("[\ue000-\uf8ff\ufffd]", text)


def test_fonts_are_embedded_and_ours(tmp_path):
    reader, _ = read(tune(), tmp_path)
    names = set()
    for page in reader.pages:
        for font in page["/Resources"].get("/Font", {}).values():
            font = font.get_object()
            inner = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
            descriptor = inner["/FontDescriptor"].get_object()
            assert any(key in descriptor for key in ("/FontFile", "/FontFile2", "/FontFile3"))
            names.add(str(font["/BaseFont"]).split("+")[-1])
    assert names
    assert all(name.startswith(("LibertinusSerif", "DejaVuSansMono")) for name in names)


def test_bookmarks_name_the_tune_and_its_pages(tmp_path):
    reader, _ = read(tune(), tmp_path, pages=("chart", "part"))
    outline = reader.outline
    assert outline[0].title == "Harbour Street Parade, F major"
    assert [entry.title for entry in outline[1]] == ["Chart", "Part"]
    assert reader.metadata.title == "Harbour Street Parade"


def test_equal_tunes_give_equal_bytes(tmp_path):
    for name in ("a.pdf", "b.pdf"):
        write_sheet(tune(), tmp_path / name)
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


@pytest.mark.parametrize(("paper", "size"), [("a4", (595.3, 841.9)), ("letter", (612.0, 792.0))])
def test_paper(paper, size, tmp_path):
    reader, _ = read(tune(), tmp_path, pages=("chart",), paper=paper)
    box = reader.pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(size, abs=0.2)
    # What the layout reckons with is what the typesetter takes.
    assert [mm * 72 / 25.4 for mm in PAPER_MM[paper]] == pytest.approx(size, abs=0.1)


# Text from files must come out as text, whatever it looks like.
TITLES = [
    '#read("x")',
    "#import sys: *",
    "<b>bold</b> & <script>",
    "\"quoted\" 'and' `ticked` $math$ *stars* _under_ = = @label // no comment",
    "back\\slash \\u{1F600} ~ [brackets] #{braces}",
    "many words " * 18,
    "x" * 200,
]


@pytest.mark.many(2, 99)
@pytest.mark.parametrize("title", TITLES)
def test_a_title_is_never_markup(title, tmp_path):
    reader, notices = read(tune(title=title), tmp_path, pages=("chart",))
    assert notices == ()

    def plain(text):
        return re.sub(r"\s+", "", text).replace("\u00ad", "").replace("-\n", "")

    assert plain(title) in plain(text_of(reader))
    assert len(reader.pages) == 1


def test_hebrew_is_printed_and_an_emoji_leaves_a_mark_and_a_notice(tmp_path):
    reader, notices = read(tune(title="שיר 🎷 song"), tmp_path, pages=("chart",))
    text = text_of(reader)
    assert all(letter in text for letter in "שיר")
    assert "\ufffd" in text
    assert len(notices) == 1
    assert "🎷" in notices[0]
    assert "replacement mark" in notices[0]


def test_control_signs_and_an_empty_title_do_no_harm(tmp_path):
    reader, notices = read(tune(title="a\x00\x1b[31mb\ud800"), tmp_path, pages=("chart",))
    assert "a" in text_of(reader)
    assert "U+001B" in notices[0]
    reader, _ = read(tune(title=""), tmp_path, pages=("chart",))
    assert "Untitled" in text_of(reader)


def pngs(arranged, pages, paper="a4", ppi=72, printing=OWN):
    materials = PageMaterials(paper)
    made = tune_pages(arranged, pages, printing, materials)
    found = page_pngs(arranged.title, made, materials.pictures.files, paper=paper, ppi=ppi)
    return [numpy.asarray(Image.open(io.BytesIO(png)).convert("L")) for png in found]


@pytest.mark.many(1, 99)
@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("instrument", ["banjo", "guitar"])
def test_nothing_is_printed_outside_the_margins(paper, instrument):
    if instrument == "guitar":
        arranged = arrangement(
            [("C", "x 3 2 0 1 0"), ("F", "1 3 3 2 1 1"), ("G7", "3 2 0 0 0 1")] * 6,
            instrument=GUITAR,
            key="C",
        )
    else:
        arranged = tune()
    for page in pngs(arranged, ("chart", "part"), paper):
        inch = 72 / 25.4
        side = int((SIDE_MM - 1.0) * inch)
        assert page[:, :side].min() > 200
        assert page[:, -side:].min() > 200
        assert page[: int((TOP_MM - 11) * inch)].min() > 200
        foot = page[-int((BOTTOM_MM - 12) * inch) :]
        assert foot.min() > 200


@POPPLER
@pytest.mark.parametrize("pages", [("chart",), ("part",)])
def test_no_words_overlap(pages, tmp_path):
    write_sheet(tune(title="A rather long title " * 4), tmp_path / "a.pdf", pages=pages)
    assert_no_words_overlap(tmp_path / "a.pdf")


@POPPLER
def test_chords_of_a_chart_can_be_read_at_arms_length(tmp_path):
    """At least 14 points. A word's box is as high as its font's ascent and descent together, which
    is more than its size."""
    many = arrangement(
        [[("F#m7b5", "4 5 4 7", "1/4"), ("B7", "3 4 4 4", "1/4"), ("Em", "4 0 2 2", "1/2")]] * 48,
        sections=[f"S{i // 8}" for i in range(48)],
    )
    for arranged in (tune(), many):
        write_sheet(arranged, tmp_path / "a.pdf", pages=("chart",))
        found = words(tmp_path / "a.pdf")
        below_head = [row for page in found for row in page if row[2] > 110]
        chords = [row for row in below_head if row[0] in {"F", "B7", "Em", "Bdim7"}]
        assert chords
        assert min(bottom - top for _, _, top, _, bottom in chords) > 14.0 * 1.1


def test_a_chart_of_32_bars_is_one_page(tmp_path):
    bars = [("F", "0 2 3 3"), [("C7", "0 0 2 1", "1/2"), ("D7", "4 5 4 5", "1/2")]] * 16
    arranged = arrangement(bars, sections=["A"] * 8 + ["B"] * 8 + ["C"] * 8 + ["D"] * 8)
    reader, _ = read(arranged, tmp_path, pages=("chart",))
    assert len(reader.pages) == 1


def test_a_chart_for_another_reader_is_transposed(tmp_path):
    reader, _ = read(tune(), tmp_path, pages=("chart",), printing=B_FLAT)
    text = re.sub(r"\s+", "", text_of(reader))
    for symbol in ("G", "C7", "C♯dim7", "G/D", "G♯m7♭5"):
        assert symbol in text
    assert "PartinB♭" in text
    assert "Gmajor" in text


def test_sections_that_come_again_at_once_are_written_once(tmp_path):
    arranged = arrangement(
        [("F", "0 2 3 3"), ("C7", "0 0 2 1")] * 3 + [("Bb", "5 7 8 8")] * 2,
        sections=["A"] * 6 + ["B", "B"],
    )
    bars = list(arranged.bars)
    for at in (2, 4):
        bars[at] = replace(bars[at], bar=replace(bars[at].bar, opens=True))
    reader, _ = read(replace(arranged, bars=tuple(bars)), tmp_path, pages=("chart",))
    text = reader.pages[0].extract_text()
    assert "3 x" in text
    assert len(re.findall("C7", text)) == 1
    assert "A A A B" in re.sub(r" +", " ", text)


@pytest.mark.parametrize("times", [1, 5])
def test_a_chart_says_how_often_and_where_to_go(times, tmp_path):
    """Once through, the page leads back by D.C.; five times through, the form says it all."""
    eight = [("F", "0 2 3 3"), ("C7", "0 0 2 1"), ("F", "0 2 3 3"), ("Bb", "5 7 8 8")] * 2
    other = [("Bb", "5 7 8 8"), ("D7", "4 5 4 5")] * 4
    sections = (["A"] * 8 + ["B"] * 8 + ["A"] * 8) * times
    arranged = arrangement((eight + other + eight) * times, sections=sections, chorus_bars=24)
    reader, _ = read(arranged, tmp_path, pages=("chart",))
    text = re.sub(r" +", " ", text_of(reader))
    assert ("D.C. al Fine" in text) == (times == 1)
    assert ("5 x (A B A) (24 bars once through, 120 bars played in all)" in text) == (times == 5)


@pytest.mark.parametrize("name", ["print.pdf", "folder/inside.pdf"])
def test_where_it_cannot_be_written_the_system_says_so(name, tmp_path):
    (tmp_path / "print.pdf").mkdir()
    with pytest.raises(OSError, match=r"print.pdf|inside.pdf"):
        write_sheet(tune(), tmp_path / name, pages=("chart",))
