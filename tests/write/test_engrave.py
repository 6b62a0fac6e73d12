"""Engraved lines of music: what the pictures hold, and where lines are broken."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from fractions import Fraction

import pytest
from hand_made import BANJO, FOUR, UKULELE, arrangement
from lxml import etree
from musicxml_cases import CASES, PLAIN, SYNCOPATED, Case

from accomp.harmony import Pitch
from accomp.score.notate import notate
from accomp.score.notate_layout import ScoreLayout
from accomp.time import Span
from accomp.write.engrave import engrave, paper_copy
from accomp.write.engrave_lines import EASY, SMALL, Lines, ways_to_break

SVG = "{http://www.w3.org/2000/svg}"
OWN = ScoreLayout("both", bass=False)


def drawn(arranged, layout=OWN, width_mm=180.0, **how):
    return [
        etree.fromstring(system.svg.encode())
        for system in engrave(notate(arranged, layout), width_mm, **how)
    ]


def of(root, kind):
    return [group for group in root.iter(f"{SVG}g") if group.get("class") == kind]


def texts(root, kind):
    return ["".join(text.itertext()) for g in of(root, kind) for text in g.iter(f"{SVG}text")]


@pytest.mark.many(4, 99)
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_no_sign_of_the_music_font_is_left_in_text(case: Case, capfd):
    for root in drawn(case.arrangement):
        words = "".join(root.itertext())
        assert not re.search("[\ue000-\uf8ff]", words)
        assert "-2147483647" not in words
        fonts = {e.get("font-family") for e in root.iter() if e.get("font-family")}
        assert all("Libertinus" in font for font in fonts)
    assert capfd.readouterr() == ("", "")


def test_every_symbol_is_there_in_order_with_real_signs():
    found = [word for root in drawn(arrangement(PLAIN)) for word in texts(root, "harm")]
    assert found == ["F", "F", "C7", "B♭", "Bdim7", "F/C", "D7", "N.C."]


def test_boxes_stand_over_the_music_in_one_strip_and_only_where_something_changes():
    roots = drawn(arrangement(PLAIN))
    boxes = [box for root in roots for box in of(root, "chord-box")]
    assert len(boxes) == 6  # F, C7, Bb, Bdim7, F/C, D7: the second F is the first one's shape
    for root in roots:
        symbols = [float(t.get("y")) for g in of(root, "harm") for t in g.iter(f"{SVG}text")]
        assert len(set(symbols)) == 1
        top = float(root.find(f"{SVG}svg").get("viewBox").split()[1])
        places = []
        for box in of(root, "chord-box"):
            x, y, scale = (
                float(n)
                for n in re.match(
                    r"translate\(([-\d.]+) ([-\d.]+)\) scale\(([\d.]+)\)", box.get("transform")
                ).groups()
            )
            lines = list(box.iter(f"{SVG}line"))
            low = y + scale * max(float(e.get("y2")) for e in lines)
            high = y + scale * min(float(e.get("y1")) for e in lines)
            assert top <= high < low <= symbols[0] - 300
            places.append((x + scale * min(float(e.get("x1")) for e in lines),
                           x + scale * max(float(e.get("x2")) for e in lines)))  # fmt: skip
        for (_, right), (left, _) in itertools.pairwise(sorted(places)):
            assert right < left


def test_without_boxes_there_are_none():
    assert not any(of(root, "chord-box") for root in drawn(arrangement(PLAIN), boxes=False))


def test_dead_strokes_are_crosses_on_tab():
    arranged = arrangement([("F", "5 5 7 8")], SYNCOPATED)
    (root,) = drawn(arranged)
    assert sum(text == "×" for text in texts(root, "note")) == 4


def test_a_tuning_that_would_be_taken_for_a_lutes_is_left_out_for_the_engraver_only():
    upside_down = replace(
        UKULELE, strings=tuple(Pitch.parse(name) for name in ("B4", "C4", "E4", "A4"))
    )
    for instrument, kept in ((UKULELE, 4), (BANJO, 4), (upside_down, 0)):
        frets = "0 0 0 3" if instrument is not BANJO else "0 0 2 3"
        score = notate(arrangement([("C", frets)], instrument=instrument, key="C"), OWN)
        copy = paper_copy(score, (0,))
        assert len(copy.findall(".//staff-tuning")) == kept
        (root,) = drawn(arrangement([("C", frets)], instrument=instrument, key="C"))
        assert len(of(root, "tabGrp")) == 4
        assert len(of(root, "clef")) == 2


def test_bow_marks_stand_where_the_strokes_change():
    copy = paper_copy(notate(arrangement([("F", "0 2 3 3")] * 3), OWN), (0,))
    measures = copy.find("part").findall("measure")
    assert [len(measure.findall(".//down-bow")) for measure in measures] == [4, 0, 0]


def test_the_page_says_tempo_and_name_so_the_music_does_not():
    copy = paper_copy(notate(arrangement(PLAIN), OWN), (0,))
    assert copy.find(".//metronome") is None
    assert {name.text for name in copy.findall(".//part-name")} == {None}


@pytest.mark.parametrize(
    ("sections", "bars", "starts"),
    [
        (["A"] * 8, 8, (0, 4)),
        (["A"] * 8 + ["B"] * 8, 16, (0, 4, 8, 12)),
        (["A"] * 6 + ["B"] * 4, 10, (0, 6)),  # a section begins a line; two bars alone make none
    ],
)
def test_lines_hold_phrases(sections, bars, starts):
    arranged = arrangement([("F", "0 2 3 3")] * bars, FOUR, sections=sections)
    measures = notate(arranged, replace(OWN, fold=False)).parts[0].measures
    first = ways_to_break(measures, 180.0)[0]
    assert first.starts == starts
    assert first.size in EASY
    assert len(drawn(arranged, replace(OWN, fold=False))) == len(starts)


def test_crowded_bars_stand_two_in_a_line():
    strokes = [(f"{n}/16", f"{n + 1}/16", "down", "plain", "ring", "all") for n in range(16)]
    arranged = arrangement([("F", "0 2 3 3")] * 8, strokes)
    ways = ways_to_break(notate(arranged, OWN).parts[0].measures, 180.0)
    assert {way.starts for way in ways if way.size in EASY} == {(0, 2, 4, 6)}
    high = arrangement([("F", "12 14 15 15")] * 8, strokes)  # its numbers have two digits
    ways = ways_to_break(notate(high, OWN).parts[0].measures, 180.0)
    assert {way.starts for way in ways} == {(0, 2, 4, 6)}


def test_a_pickup_shares_the_first_line():
    arranged = arrangement([("F", "0 2 3 3")] * 8, FOUR, pickup=Fraction(1, 4))
    ways = ways_to_break(notate(arranged, OWN).parts[0].measures, 180.0)
    assert ways[0].starts == (0, 5)
    assert all(way.starts in {(0, 5), (0,)} for way in ways)


def test_lines_are_as_wide_as_asked():
    score = notate(arrangement(PLAIN), OWN)
    for size in (*EASY, *SMALL):
        for system in engrave(score, 150.0, Lines(size, (0, 4))):
            assert system.width_mm == pytest.approx(150.0, abs=0.1)
            assert 25 < system.height_mm < 90


def test_equal_scores_give_equal_pictures():
    score = notate(arrangement(PLAIN, SYNCOPATED), OWN)
    assert engrave(score, 180.0) == engrave(score, 180.0)


def test_a_rolled_up_stroke_keeps_its_arrow_where_bow_marks_are_left_out():
    strokes = [
        ("0", "1/2", "up", "plain", "roll", "all"), ("1/2", "1", "down", "plain", "roll", "all"),
    ]  # fmt: skip
    score = notate(arrangement([("F", "0 2 3 3")] * 3, strokes), OWN)
    measures = paper_copy(score, (0,)).find("part").findall("measure")
    assert [len(measure.findall(".//up-bow")) for measure in measures] == [1, 0, 0]
    assert [len(measure.findall(".//technical")) for measure in measures] == [2, 0, 0]
    for measure in measures:  # an up-stroke goes from high to low
        ways = [arrow.get("direction") for arrow in measure.iter("arpeggiate")]
        assert ways == ["down"] * 4 + ["up"] * 4
    # SMuFL 1.4, "Multi-segment lines": EAAE is the arrow down, EAAD the arrow up.
    (root,) = drawn(arrangement([("F", "0 2 3 3")] * 3, strokes))
    signs = [{use.get("href")[1:5] for use in g.iter(f"{SVG}use")} for g in of(root, "arpeg")]
    assert ["EAAE" in one for one in signs] == [True, False] * 3
    assert ["EAAD" in one for one in signs] == [False, True] * 3


def held_over():
    """Strokes on the second beat that are held over the bar line to the next."""
    bars = [("F", "0 2 3 3"), ("C7", "10 12 12 13")] * 4
    arranged = arrangement(bars, [("1/4", "1", "down", "plain", "tremolo", "all")])
    longer = [
        replace(
            bar,
            strums=tuple(
                replace(one, span=Span(one.span.start, one.span.end + Fraction(1, 4)))
                for one in bar.strums
            ),
        )
        for bar in arranged.bars
    ]
    return replace(arranged, bars=tuple(longer))


def numbers(root):
    """The numbers on TAB, from left to right, those over one another in one set."""
    columns = {}
    for text in root.iter(f"{SVG}text"):
        if text.getparent().get("class") == "note":
            columns.setdefault(float(text.get("x")), set()).add(text.text)
    return [columns[x] for x in sorted(columns)]


def test_what_is_held_has_its_numbers_once_and_in_brackets_after_a_line_break():
    first, second = drawn(held_over())
    low, high = {"0", "2", "3"}, {"10", "12", "13"}
    assert numbers(first) == [low, high] * 2
    assert numbers(second) == [{f"({fret})" for fret in high}, *[low, high] * 2]


def test_the_lines_of_tab_run_through_where_no_number_is():
    for root in drawn(held_over()):
        staff = of(root, "staff")[1::2]  # notation, TAB, notation ...
        for measure in staff:
            gaps = 0
            pieces = {}
            for path in measure.findall(f"{SVG}path"):
                match = re.fullmatch(r"M([\d.]+) ([\d.]+) L([\d.]+) \2", path.get("d"))
                if match:
                    pieces.setdefault(match[2], []).append((float(match[1]), float(match[3])))
            assert len(pieces) == 4
            for line in pieces.values():
                line.sort()
                gaps += len(line) - 1
                assert all(end < start for (_, end), (start, _) in itertools.pairwise(line))
            shown = [
                text
                for text in measure.iter(f"{SVG}text")
                if text.getparent().get("class") == "note"
            ]
            assert gaps == len(shown)
            for text in shown:  # a figure is half as wide as it is high
                x, y = float(text.get("x")), float(text.get("y"))
                half = float(text.get("font-size").removesuffix("px")) * len(text.text) / 4
                line = pieces[min(pieces, key=lambda height: abs(float(height) - y))]
                assert any(a[1] <= x - half < x + half <= b[0] for a, b in itertools.pairwise(line))


def test_tab_alone_has_stems_and_beams_and_under_notation_none():
    quavers = [(f"{n}/8", f"{n + 1}/8", "down", "plain", "ring", "all") for n in range(8)]
    arranged = arrangement([("F", "0 2 3 3")], quavers)
    (alone,) = drawn(arranged, replace(OWN, player="tab"))
    (below,) = drawn(arranged)
    rhythm = "tabDurSym"
    assert len([stem for group in of(alone, rhythm) for stem in group.iter(f"{SVG}path")]) == 8
    assert len(of(alone, "beam")) == len(of(below, "beam")) > 1
    assert not [stem for group in of(below, rhythm) for stem in group.iter(f"{SVG}path")]


def test_words_over_tab_alone_are_as_large_as_over_a_staff():
    sizes = [
        {
            float(text.get("font-size").removesuffix("px"))
            for (root,) in [drawn(arrangement([("Bb", "5 7 8 8")], sections=["A"]), layout)]
            for kind in ("harm", "reh")
            for group in of(root, kind)
            for text in group.iter(f"{SVG}text")
        }
        for layout in (OWN, replace(OWN, player="tab"))
    ]
    assert sorted(sizes[1]) == pytest.approx(sorted(sizes[0]), abs=2.0)
