"""How a part is laid on pages: how many there are, where they are turned, how full they are."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest
from hand_made import FOUR, GUITAR, arrangement
from hypothesis import given
from hypothesis import strategies as st
from page_words import POPPLER, assert_no_words_overlap, words

from accomp import find_style, playable_shapes
from accomp.score.notate import notate
from accomp.score.notate_layout import ScoreLayout
from accomp.score.written import Barline
from accomp.time import Meter
from accomp.write import sheet_fit
from accomp.write.engrave import System
from accomp.write.engrave_lines import EASY, SMALL, ways_to_break
from accomp.write.pages import TOP_MM, PageMaterials, PageSet, set_pdf
from accomp.write.sheet_fit import LEAST_GAP_MM, MOST_GAP_MM, PageSpace, laid_out, paged
from accomp.write.sheet_part import part_pages, strip_data
from accomp.write.sheet_pattern import pattern_data
from accomp.write.sheet_signs import box_signs, pattern_signs, stroke_signs
from accomp.write.sheet_tune import OWN, PageAddress, Printing, title_mm, tune_data

pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed")

OWN_PART = OWN.layouts[0]
A4 = PageSpace(180.0, 200.0, 262.0)
LIGHT_HEAVY = [
    ("0", "1/4", "down", "light", "ring", "low2"),
    ("1/4", "1/2", "down", "plain", "choked", "all"),
    ("1/2", "3/4", "down", "light", "ring", "low2"),
    ("3/4", "1", "down", "plain", "choked", "all"),
]
EIGHT = [
    ("F", "0 2 3 3"), ("F7", "0 2 1 3"), ("Bb", "5 7 8 8"), ("Bdim7", "5 7 6 8"),
    [("F/C", "5 5 7 8", "1/2"), ("D7", "4 5 4 5", "1/2")], ("G7", "2 4 3 5"), ("C7", "0 0 2 1"),
    ("F", "0 2 3 3"),
]  # fmt: skip
HIGH = [
    ("Bb", "10 10 12 13"), ("Bb7", "10 10 12 11"), ("Eb", "10 13 13 13"), ("Cm7", "12 12 13 13"),
    [("Bb", "10 10 12 13", "1/2"), ("G7", "11 10 12 10", "1/2")], ("Cm7", "12 12 13 13"),
    ("F7", "12 14 13 15"), ("Bb", "10 10 12 13"),
]  # fmt: skip


def tune(eights, letters, **more):
    """`eights` of eight bars, one a letter; a letter that comes again has the same bars."""
    bars = [bar for eight in eights for bar in eight]
    sections = [letter for letter in letters for _ in range(8)]
    return arrangement(bars, LIGHT_HEAVY, sections=sections, **more)


AABA = tune([EIGHT, EIGHT, HIGH, EIGHT], "AABA", chorus_bars=0)
ABCD = tune([EIGHT, HIGH, EIGHT, HIGH], "ABCD")
LONG = tune([EIGHT, HIGH] * 4, "ABCDEFGH")
WALTZ = arrangement(
    [("F", "0 2 3 3"), ("F", "0 2 3 3"), ("C7", "0 0 2 1"), ("Bb", "5 7 8 8")] * 8,
    [(f"{n}/4", f"{n + 1}/4", "down", "plain", "ring", "all") for n in range(3)],
    meter="3/4",
    sections=["A"] * 16 + ["B"] * 16,
)
BLUES = arrangement([("Bb", "5 7 8 8"), ("F7", "0 2 1 3"), ("C7", "0 0 2 1")] * 4, FOUR)
GUITARS = arrangement(
    [("C", "x 3 2 0 1 0"), ("F", "1 3 3 2 1 1"), ("G7", "3 2 0 0 0 1"), ("C", "x 3 2 0 1 0")] * 8,
    instrument=GUITAR,
    key="C",
    sections=[letter for letter in "ABCD" for _ in range(8)],
)
PIECES = {
    "AABA": AABA, "ABCD": ABCD, "long": LONG, "waltz": WALTZ, "blues": BLUES, "guitar": GUITARS,
}  # fmt: skip


@cache
def made(name, player="both", boxes="top", paper="a4"):
    """The data of a piece's part, and the press with its pictures."""
    printing = Printing((ScoreLayout(player, bass=False),), boxes)
    materials = PageMaterials(paper)
    return part_pages(PIECES[name], printing, materials, PageAddress(), own=True)[0], materials


def pages_of(*how):
    """The systems on each page."""
    return [page["systems"] for page in made(*how)[0]["pages"]]


def pdf_of(folder, *how):
    """The same as a PDF."""
    page, materials = made(*how)
    set_pdf(PageSet(how[0], [page], materials.paper), materials.pictures.files, folder / "a.pdf")
    return folder / "a.pdf"


@pytest.fixture
def lines_of_50_mm(monkeypatch):
    """Every line is as high, at the engraver's own size; nothing is engraved."""

    def engraved(score, width_mm, way, *, boxes):
        return tuple(System("", width_mm, 50.0 * way.size) for _ in way.starts)

    monkeypatch.setattr(sheet_fit, "engrave", engraved)


@pytest.mark.many(1, 2)
@pytest.mark.parametrize(
    ("name", "paper"),
    [("AABA", "letter"), ("ABCD", "a4"), ("waltz", "letter"), ("blues", "a4"), ("guitar", "a4")],
)
def test_a_part_of_up_to_32_bars_is_one_page(name, paper, tmp_path):
    how = (name, "both", "top", paper)
    assert len(pages_of(*how)) == 1
    assert len(pypdf.PdfReader(pdf_of(tmp_path, *how)).pages) == 1


@pytest.mark.slow
@pytest.mark.many(1)
@pytest.mark.parametrize("boxes", ["top", "changes"])
def test_64_bars_are_two_pages_turned_at_the_end_of_a_section(boxes, tmp_path):
    pages = pages_of("long", "both", boxes)
    assert len(pages) == 2
    assert len(pages[0]) in section_lines(LONG, sum(map(len, pages)))
    assert len(pypdf.PdfReader(pdf_of(tmp_path, "long", "both", boxes)).pages) == 2


def section_lines(arranged, lines):
    """Which lines begin a section, for the way of breaking that has so many lines."""
    measures = notate(arranged, OWN_PART).parts[0].measures
    ways = ways_to_break(measures, A4.width_mm)
    starts = next(way.starts for way in ways if len(way.starts) == lines)
    return [line for line, start in enumerate(starts) if measures[start].rehearsal]


@pytest.mark.usefixtures("lines_of_50_mm")
@pytest.mark.parametrize("name", PIECES)
@pytest.mark.parametrize(
    "height_mm",
    [110.0, 250.0, *(pytest.param(mm, marks=pytest.mark.long) for mm in (150.0, 200.0))],
)
def test_the_music_fits_its_pages_and_fills_those_that_it_needs(name, height_mm):
    room = PageSpace(180.0, height_mm * 0.8, height_mm)
    pages = laid_out(notate(PIECES[name], OWN_PART), room, boxes=False)
    for number, page in enumerate(pages):
        high = sum(system.height_mm + page.gap_mm for system in page.systems)
        assert high <= room.height_mm(number) + 0.1
        assert LEAST_GAP_MM <= page.gap_mm <= MOST_GAP_MM
    filled = [sum(system.height_mm for system in page.systems) for page in pages]
    whole = sum(room.height_mm(number) for number in range(len(pages)))
    assert len(pages) == 1 or sum(filled) > 0.5 * whole - 50


@pytest.mark.parametrize("name", PIECES)
def test_no_staff_is_under_five_millimetres_high(name):
    """The least size there has been: 0.72 of a staff of 7.2 mm."""
    assert min(*EASY, *SMALL) == 0.72
    ways = ways_to_break(notate(PIECES[name], OWN_PART).parts[0].measures, 180.0)
    assert {way.size for way in ways} <= {*EASY, *SMALL}


ROOMS = st.builds(PageSpace, st.just(180.0), st.floats(60, 200), st.floats(200, 260))


@given(
    st.lists(st.floats(15, 60), min_size=1, max_size=9),
    ROOMS,
    st.dictionaries(st.integers(1, 8), st.sampled_from([0.15, 0.4])),
)
def test_pages_are_as_few_as_can_be_and_turned_where_it_costs_least(heights, room, turns):
    """Against all ways of cutting the lines into pages."""

    def price(counts):
        at, cost = 0, 0.0
        for number, count in enumerate(counts):
            left = room.height_mm(number) - sum(heights[at : at + count])
            if left < 0 and count > 1:
                return None
            at += count
            cost += max(0.0, left / room.height_mm(number)) ** 2
            cost += turns.get(at, 0.0)
        return len(counts), cost

    prices = []
    for cuts in itertools.product((False, True), repeat=len(heights) - 1):
        edges = [0, *(i + 1 for i, cut in enumerate(cuts) if cut), len(heights)]
        prices.append(price([b - a for a, b in itertools.pairwise(edges)]))
    found = price(paged(heights, room, turns))
    fewest, least = min(one for one in prices if one is not None)
    assert found is not None
    assert found[0] == fewest
    assert found[1] == pytest.approx(least)


def test_a_page_is_turned_for_nothing_where_the_music_begins_anew_and_more_easily_at_a_rest():
    plain = notate(PIECES["AABA"], OWN_PART).parts[0].measures[1]
    assert plain.barline == Barline.REGULAR
    assert plain.events[0].notes and plain.events[-1].notes  # noqa: PT018  nobody rests
    rest = replace(plain, events=(replace(plain.events[0], notes=()),))
    price = sheet_fit._turn(plain, plain)
    assert 0 < sheet_fit._turn(plain, rest) == sheet_fit._turn(rest, plain) < price
    for before, after in (
        (plain, replace(plain, rehearsal="B")),
        (plain, replace(plain, repeat_start=True)),
        (replace(plain, repeat_end=2), plain),
        (replace(plain, barline=Barline.DOUBLE), plain),
    ):
        assert sheet_fit._turn(before, after) == 0.0


def test_white_on_a_page_costs_the_square_of_its_share() -> None:
    # 30 and 50 mm of 100 mm left cost 0.34, 10 and 70 mm 0.50: 0.16 more, the price of a turn.
    room = PageSpace(180.0, 100.0, 100.0)
    for turn, counts in ((0.15, (1, 2)), (0.17, (2, 1))):
        assert paged((70.0, 20.0, 30.0), room, {1: turn}) == counts


@pytest.mark.usefixtures("lines_of_50_mm")
@pytest.mark.parametrize(
    ("room_mm", "heights"),
    [
        (99.0, [46, 46]), (98.9, [43, 43]), (93.0, [43, 43]), (92.9, [40, 40]), (87.0, [40, 40]),
        (86.9, [38, 38]), (83.0, [38, 38]), (82.9, [36, 36]), (79.0, [36, 36]), (78.9, [38]),
    ],
)  # fmt: skip
def test_of_ways_with_as_few_pages_the_one_that_reads_best_is_taken(room_mm, heights):
    """Eight bars: two lines of four, 50 mm times their size and 3.5 of white, from large to small;
    then one line of eight, at the largest size at which its bars have room."""
    bars = [EIGHT[0], EIGHT[6]] * 4
    score = notate(arrangement(bars, FOUR), replace(OWN_PART, fold=False))
    (page,) = laid_out(score, PageSpace(180.0, room_mm, room_mm), boxes=False)
    assert [system.height_mm for system in page.systems] == pytest.approx(heights)


QUAVERS = [(f"{n}/8", f"{n + 1}/8", "down", "plain", "ring", "all") for n in range(4)]


@pytest.mark.usefixtures("lines_of_50_mm")
@pytest.mark.parametrize("lines", [2, 3])
def test_a_page_is_turned_where_a_section_ends(lines):
    """Five lines of four bars on two pages that hold three each."""
    sections = ["A"] * 4 * lines + ["B"] * 4 * (5 - lines)
    bars = [HIGH[i % 8] for i in range(20)]
    arranged = arrangement(bars, [*QUAVERS, *LIGHT_HEAVY[2:]], sections=sections)
    first, _ = laid_out(notate(arranged, OWN_PART), PageSpace(180.0, 170.0, 170.0), boxes=False)
    assert len(first.systems) == lines


@pytest.mark.usefixtures("lines_of_50_mm")
@pytest.mark.parametrize("silent", [7, 11])
def test_a_page_is_turned_at_a_rest_where_no_section_ends(silent):
    """Five lines of four bars on two pages that hold three each: the rest ends one of the lines."""
    bars = [("N.C.", "") if i == silent else HIGH[i % 8] for i in range(20)]
    score = notate(arrangement(bars, [*QUAVERS, *LIGHT_HEAVY[2:]]), OWN_PART)
    starts = {way.starts for way in ways_to_break(score.parts[0].measures, 180.0)}
    assert starts == {(0, 4, 8, 12, 16)}
    pages = laid_out(score, PageSpace(180.0, 170.0, 170.0), boxes=False)
    assert len(pages) == 2
    assert len(pages[0].systems) == (silent + 1) // 4


@pytest.mark.slow
def test_boxes_stand_once_at_the_top_or_over_the_changes_or_nowhere():
    shown = {boxes: boxes_of("ABCD", boxes) for boxes in ("top", "changes", "none")}
    assert shown["top"] == (14, 0)  # so many shapes
    assert shown["changes"][0] == 0
    assert shown["changes"][1] > 20
    assert shown["none"] == (0, 0)


def boxes_of(name, boxes):
    """How many boxes stand at the top, and how many over changes."""
    page, materials = made(name, "both", boxes)
    systems = [system["picture"] for one in page["pages"] for system in one["systems"]]
    over = sum(materials.pictures.files[name].count('class="chord-box"') for name in systems)
    return sum(map(len, page["box-rows"])), over


def test_what_another_player_reads_has_no_boxes():
    printing = Printing((ScoreLayout("slash", bass=False, reader="Bb"),), "top")
    (page,) = part_pages(ABCD, printing, PageMaterials(), PageAddress(), own=False)
    assert page["box-rows"] == []
    assert page["pattern"] is None
    assert page["signs"] == []


@pytest.mark.slow
@pytest.mark.many(2)
@POPPLER
@pytest.mark.parametrize(
    "how",
    [
        ("ABCD", "both", "top", "a4"),
        ("ABCD", "tab", "top", "a4"),
        ("guitar", "both", "changes", "a4"),
        ("guitar", "tab", "top", "letter"),
        ("waltz", "both", "top", "letter"),
        ("long", "both", "changes", "a4"),
    ],
    ids=" ".join,
)
def test_no_words_overlap_where_lines_are_dense(how, tmp_path):
    assert_no_words_overlap(pdf_of(tmp_path, *how))


@POPPLER
@pytest.mark.parametrize(
    "title",
    ["Kettle Lane", "A rather long title " * 4]
    + [pytest.param(title, marks=pytest.mark.long) for title in ("many words " * 18, "W" * 55)],
)
@pytest.mark.parametrize("composer", ["", "Somebody With A Long Name Who Wrote Much"])
def test_the_head_is_as_high_as_was_reckoned(title, composer, tmp_path):
    """So that the music stands on the pages that were meant."""
    page, materials = made("blues")
    arranged = replace(BLUES, title=title, composer=composer)
    tune = tune_data(arranged, materials.text, PageAddress(), "concert", own=True)
    # Instead of music a word that is 10 mm high.
    mark = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 30 10"><text y="10" font-size="10"'
    mark = materials.pictures.add(f'{mark} font-family="Libertinus Serif">MUSIC</text></svg>')
    music = [{"gap-mm": 0.0, "systems": [{"picture": mark, "width-mm": 30.0}]}]
    pages = PageSet(title, [page | {"tune": tune, "pages": music}])
    set_pdf(pages, materials.pictures.files, tmp_path / "a.pdf")
    (found,) = words(tmp_path / "a.pdf")
    (bottom,) = (row[4] for row in found if row[0] == "MUSIC")
    boxes = [box for row in page["box-rows"] for box in row]
    reckoned = title_mm(arranged, materials.width_mm)
    reckoned += strip_data(page["pattern"], boxes, materials.width_mm)[1]
    head = bottom / 72 * 25.4 - 12.5 - TOP_MM  # letters reach 2.5 mm under their base line
    assert head <= reckoned + 0.6
    assert head > reckoned - 3.0 or len(title) > 50  # what is long is not reckoned as closely


def test_a_pickup_and_a_single_last_bar_share_lines():
    arranged = arrangement(
        [EIGHT[0]] * 9, LIGHT_HEAVY, sections=["A"] * 8 + ["End"], pickup=Fraction(1, 4)
    )
    measures = notate(arranged, OWN_PART).parts[0].measures
    for way in ways_to_break(measures, 180.0):
        assert len(measures) - way.starts[-1] > 1


@pytest.mark.slow
def test_a_page_says_what_the_signs_on_it_mean_and_of_no_others():
    finger, barre = "● finger, its number below", "━ one finger over several strings"
    down = "strokes: ↓ down"
    assert made("guitar")[0]["signs"] == [finger, "○ open", "× not sounded", down]
    assert made("waltz")[0]["signs"] == [finger, "○ open", "number beside: fret", down]
    assert made("waltz", "both", "none")[0]["signs"] == [down]
    (laid_over,) = (one for one in playable_shapes("C7") if str(one) == "4 3 5 3")
    assert box_signs([laid_over]) == [finger, barre, "number beside: fret"]
    signs = pattern_signs(pattern_data(find_style("four-light-heavy"), 100.0))
    assert signs == [down, "small: light", "• choked"]
    assert stroke_signs({"×", "↑"}) == ["strokes: ↑ up", "× dead"]


@pytest.mark.slow
def test_the_signs_stand_under_the_music(tmp_path):
    path = pdf_of(tmp_path, "waltz")
    found = pypdf.PdfReader(path).pages[0].extract_text()
    assert "finger, its number below" in found.replace("\u00a0", " ")


def test_a_head_says_the_meter_that_a_tune_begins_in():
    arranged = arrangement([("F", "0 2 3 3"), ("C7", "0 0 2 1")])
    first, last = arranged.bars
    waltz = replace(last, bar=replace(last.bar, meter=Meter.parse("3/4")))
    mixed = replace(arranged, bars=(first, waltz))
    head = tune_data(mixed, PageMaterials().text, PageAddress(), "concert", own=True)
    assert head["meter"] == "4/4"
