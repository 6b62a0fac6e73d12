"""What is done to an engraved line, on small pictures written by hand: whole texts and places.

The pictures have the engraver's form: lengths inside are hundredths of a millimetre.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hand_made import BANJO, FOUR, GUITAR, arrangement, shape
from lxml import etree

from accomp.harmony import parse_chord
from accomp.score.notate import notate
from accomp.score.notate_layout import ScoreLayout
from accomp.score.written import ChordMark, Event, Mark, PartKind
from accomp.write import engrave_svg
from accomp.write.engrave_svg import finished_system

SVG = "{http://www.w3.org/2000/svg}"
BOTH, TAB = ScoreLayout("both", bass=False), ScoreLayout("tab", bass=False)
BB7 = [("Bb7", "5 7 8 6")]


def picture(inside: str) -> str:
    """An engraved page with this inside."""
    return (
        '<svg viewBox="0 0 1957 226" version="1.1" xmlns="http://www.w3.org/2000/svg" id="root1">\n'
        '  <svg class="definition-scale" font-family="Times, serif" viewBox="0 0 19570 2260">\n'
        f"    {inside}\n  </svg>\n</svg>"
    )


def measure(inside: str, number: int = 1) -> str:
    return f'<g id="p1-m{number}" class="measure">{inside}</g>'


def harm(x: float, symbol: str, y: float = 712) -> str:
    return (
        f'<g id="h{x}" class="harm"><text x="{x}" y="{y}" font-size="0px">'
        f'<tspan id="t"><tspan font-size="405px">{symbol}</tspan></tspan></text></g>'
    )


ONE = """<g id="p1-m1" class="measure">
      <g id="def34" class="staff">
        <path d="M0 1135 L1470 1135"/>
        <g id="p1-m1-n1" class="note">
          <text x="1596" y="1245" font-size="0px"><tspan font-size="324px">6</tspan></text>
        </g>
      </g>
      <g id="fgh56" class="reh">
        <rect x="493" y="17" height="870" width="796"/>
        <text x="891" y="664" font-size="0px"><tspan id="x1"> <tspan font-size="708px">A </tspan>
        </tspan></text>
      </g>
      <g id="ijk78" class="harm">
        <text x="1483" y="712" font-size="0px"><tspan id="x2"><tspan font-size="708px">B</tspan>
        <tspan font-family="Leipzig" font-size="1258px">\uea64</tspan>
        <tspan font-size="708px">7</tspan></tspan></text>
      </g>
    </g>"""
# Over TAB alone everything is made 180/315 as large; the symbol clears the frame by 1.2 mm.
ONE_FINISHED = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 -6.0143 1957 232.014" version="1.1" '
    'id="root1" width="1957" height="232.014">'
    '<svg class="definition-scale" font-family="Libertinus Serif" '
    'viewBox="0 -60.143 19570 2320.14" x="0" y="-6.0143" width="1957" height="232.014">'
    '<g class="measure"><g class="staff"><path d="M0 1135 L1470 1135"/>'
    '<g class="note"><text x="1596" y="1245" font-size="324px">6</text></g></g>'
    '<g class="reh"><rect x="663.571" y="389.857" height="497.143" width="454.857"/>'
    '<text x="891" y="759.571" font-size="404.571px">A</text></g>'
    '<g class="harm"><text x="1483" y="269.857" font-size="404.571px">B'
    '<tspan font-size="525.943px">♭</tspan>7</text></g></g></svg></svg>'
)


def test_a_line_of_tab_alone_is_finished_letter_by_letter():
    score = notate(arrangement(BB7, FOUR, sections=["A"]), TAB)
    drawn, last = finished_system(picture(ONE), score, None, boxes=False)
    assert drawn.svg == ONE_FINISHED
    assert (drawn.width, drawn.height) == (1957.0, pytest.approx(232.0143))
    assert last == (parse_chord("Bb7"), shape(BANJO, "Bb7", "5 7 8 6"))


def test_a_box_stands_in_a_strip_over_everything():
    """Four frets at 13 and 8 for the marks, 20 to a unit, and 1.2 mm: 1320 over the symbol's top,
    which is 330 over its base line at 269.857."""
    score = notate(arrangement(BB7, FOUR, sections=["A"]), TAB)
    drawn, _ = finished_system(picture(ONE), score, None, boxes=True)
    assert drawn.height == pytest.approx(226 + (1320 + 330 - 269.857) / 10)
    root = etree.fromstring(drawn.svg)
    (strip,) = [g for g in root.iter(f"{SVG}g") if g.get("class") == "boxes"]
    (box,) = strip
    # Its upper left corner, 12.25 units left of the symbol and 17 over the first sign.
    assert box.get("transform") == "translate(1238 -1720.14) scale(20)"
    assert root.get("viewBox") == "0 -138.014 1957 364.014"
    strip.getparent().remove(strip)
    without = etree.fromstring(ONE_FINISHED)
    assert [e.attrib for e in root.iter() if e.tag == f"{SVG}g"] == [
        e.attrib for e in without.iter() if e.tag == f"{SVG}g"
    ]


def test_under_notation_words_keep_their_size():
    score = notate(arrangement(BB7, FOUR, sections=["A"]), BOTH)
    drawn, _ = finished_system(picture(ONE), score, None, boxes=False)
    root = etree.fromstring(drawn.svg)
    assert [t.get("font-size") for t in root.iter(f"{SVG}text")] == ["324px", "708px", "708px"]
    (frame,) = root.iter(f"{SVG}rect")
    assert dict(frame.attrib) == {"x": "493", "y": "17", "height": "870", "width": "796"}


@pytest.mark.parametrize(
    ("tspans", "size", "shown"),
    [
        ('<tspan font-size="300px">\ueca5 = </tspan><tspan font-size="200px">96</tspan>',
         "300px", "♩ = 96"),
        ('<tspan font-family="Leipzig" font-size="900px">\ue260</tspan>', "405px", "♭|526.5px"),
        ('<tspan>\ue261x</tspan><tspan font-size="100px">\ue262</tspan>',
         "100px", "♮|130pxx♯|130px"),
        ("<tspan>\uea65\uea66\uea64</tspan>", "405px", "♮|526.5px♯|526.5px♭|526.5px"),
    ],
)  # fmt: skip
def test_text_has_real_signs_and_the_size_of_its_first_words(tspans, size, shown):
    root = etree.fromstring(picture(f'<text x="1" font-size="0px">{tspans}</text>'))
    engrave_svg._real_text(root)
    (text,) = root.iter(f"{SVG}text")
    said = (text.text or "") + "".join(
        f"{span.text}|{span.get('font-size')}{span.tail or ''}" for span in text
    )
    assert (text.get("font-size"), said) == (size, shown)


def tab_event(start: str, **more: object) -> Event:
    """A stroke on TAB as it is written out, changed."""
    score = notate(arrangement(BB7, [("0", "1", "down", "plain", "ring", "all")]), BOTH)
    return replace(score.parts[1].measures[0].events[0], start=Fraction(start), **more)


def tab_score(*measures: list[Event]):
    """A score of notation and TAB with these strokes on TAB, measure 1 and so on."""
    bars = BB7 * len(measures)
    score = notate(arrangement(bars, FOUR), replace(BOTH, fold=False))
    notation, tab = score.parts
    rows = zip(tab.measures, measures, strict=True)
    changed = tuple(replace(one, events=tuple(events)) for one, events in rows)
    return replace(score, parts=(notation, replace(tab, measures=changed)))


def test_numbers_that_are_not_plain_are_told_apart_by_measure_and_order():
    """A rest counts as one; what is held at the very start of a line stands in brackets."""
    held = tab_event("0", tied_from=True)
    rest = tab_event("1/4", notes=())
    dead = tab_event("1/2", marks=frozenset({Mark.DEAD}))
    later = tab_event("3/4", tied_from=True)
    score = tab_score([held, rest, dead, later], [held])

    def names(measure: int, *orders: int) -> set[str]:
        return {f"p2-m{measure}-n{order}" for order in orders}

    first = engrave_svg._unusual_numbers(score, "m1")
    assert first.bracketed == names(1, 1, 2, 3, 4)
    assert first.dead == names(1, 6, 7, 8, 9)
    assert first.held == names(1, 10, 11, 12, 13) | names(2, 1, 2, 3, 4)
    second = engrave_svg._unusual_numbers(score, "m2")
    assert second.bracketed == names(2, 1, 2, 3, 4)
    assert second.held == names(1, 1, 2, 3, 4, 10, 11, 12, 13)
    assert second.dead == first.dead


LINES = (
    '<path d="M0 1000 L900 1000"/><path d="M1100 1000 L1900 1000"/>'
    '<path d="M2100 1000 L3000 1000"/><path d="M0 1315 L3000 1315"/>'
    '<path d="M0 990 L3000 1010"/><path d="M5 1000 L5 1315"/>'
)


def note(name: str, x: float, number: str, y: float = 1110) -> str:
    return (
        f'<g id="{name}" class="note"><text x="{x}" y="{y}" font-size="300px">{number}</text></g>'
    )


@pytest.mark.parametrize(
    ("tied", "notes", "lines", "shown"),
    [
        # In brackets: the line ends 300 * (0.26 * 3 + 0.08) = 258 before the middle.
        ("opens", note("p2-m1-n1", 1000, "5"),
         ["M0 1000 L742 1000", "M1258 1000 L1900 1000", "M2100 1000 L3000 1000"], ["(5)"]),
        ("opens", note("p2-m1-n1", 1000, "12"),
         ["M0 1000 L664 1000", "M1336 1000 L1900 1000", "M2100 1000 L3000 1000"], ["(12)"]),
        ("goes on", note("p2-m1-n1", 1000, "5"),
         ["M0 1000 L1900 1000", "M2100 1000 L3000 1000"], []),
        ("goes on", note("p2-m1-n1", 1000, "5") + note("p2-m1-n2", 2000, "7"),
         ["M0 1000 L3000 1000"], []),
        ("dead", note("p2-m1-n1", 1000, "5"),
         ["M0 1000 L900 1000", "M1100 1000 L1900 1000", "M2100 1000 L3000 1000"], ["×"]),
        ("opens", note("p2-m9-n1", 1000, "5"),
         ["M0 1000 L900 1000", "M1100 1000 L1900 1000", "M2100 1000 L3000 1000"], ["5"]),
    ],
)  # fmt: skip
def test_lines_of_tab_end_round_brackets_and_run_through_what_is_held(tied, notes, lines, shown):
    event = {
        "opens": tab_event("0", tied_from=True),
        "goes on": tab_event("1/4", tied_from=True),
        "dead": tab_event("0", marks=frozenset({Mark.DEAD})),
    }[tied]
    raw = measure(f'<g class="staff">{LINES}{notes}</g>')
    root = etree.fromstring(picture(raw))
    engrave_svg._mark_numbers(root.find(f"{SVG}svg"), tab_score([event]))
    paths = [path.get("d") for path in root.iter(f"{SVG}path")]
    assert paths[-3:] == ["M0 1315 L3000 1315", "M0 990 L3000 1010", "M5 1000 L5 1315"]
    assert paths[:-3] == lines
    assert [text.text for text in root.iter(f"{SVG}text")] == shown


@pytest.mark.parametrize(
    ("x", "y", "half", "lines"),
    [
        (2000, 1157, 50, "M0 1000 L900 1000|M1100 1000 L1900 1000|M2100 1000 L3000 1000"),
        (2000, 1157.5, 150, "M0 1000 L900 1000|M1100 1000 L1900 1000|M2100 1000 L3000 1000"),
        (2000, 1157, 150, "M0 1000 L900 1000|M1100 1000 L1850 1000|M2150 1000 L3000 1000"),
        (2000, 843, 150, "M0 1000 L900 1000|M1100 1000 L1850 1000|M2150 1000 L3000 1000"),
        (2000, 842.5, 150, "M0 1000 L900 1000|M1100 1000 L1900 1000|M2100 1000 L3000 1000"),
        (500, 1000, 150, "M0 1000 L900 1000|M1100 1000 L1900 1000|M2100 1000 L3000 1000"),
        (0, 1000, 0, "M0 1000 L900 1000|M1100 1000 L1900 1000|M2100 1000 L3000 1000"),
        (3000, 1000, 0, "M0 1000 L900 1000|M1100 1000 L1900 1000|M2100 1000 L3000 1000"),
    ],
)  # fmt: skip
def test_a_number_belongs_to_the_line_nearest_its_foot(x, y, half, lines):
    """Half the lines' distance, 157.5, away at most; without a line on both sides nothing is
    done."""
    raw = f'<g class="staff">{LINES}<text x="{x}" y="{y}">5</text></g>'
    root = etree.fromstring(picture(raw))
    staff = root.find(f".//{SVG}g")
    engrave_svg._gap(staff, staff.find(f"{SVG}text"), half)
    assert [path.get("d") for path in staff.findall(f"{SVG}path")][:-3] == lines.split("|")


@pytest.mark.parametrize(
    ("kind", "x", "moved"),
    [
        ("reh", -50, (0, 150)),
        ("reh", 0, (0, 100)),
        ("reh", 50, (50, 100)),
        ("tempo", -50, (-50, 100)),
    ],
)
def test_only_a_frame_left_of_the_line_is_pulled_in_with_its_words(kind, x, moved):
    raw = f'<g class="{kind}"><rect x="{x}" y="0"/><text x="100">Long name</text></g>'
    root = etree.fromstring(picture(raw + '<g class="reh"/>'))
    engrave_svg._pull_in(root.find(f"{SVG}svg"))
    found = [float(e.get("x")) for e in root.iter(f"{SVG}rect", f"{SVG}text")]
    assert found == list(moved)


def symbols(*chords: tuple[str, str], start: object = None, boxes: bool = True):
    """A line whose first measure has these chords 3000 apart: the boxes' places, the last box."""
    marks = tuple(
        ChordMark(
            Fraction(i, 4),
            None if symbol == "N.C." else parse_chord(symbol),
            None if not frets else shape(BANJO, symbol, frets),
        )
        for i, (symbol, frets) in enumerate(chords)
    )
    score = notate(arrangement(BB7, FOUR), BOTH)
    one, tab = score.parts
    (only,) = one.measures
    score = replace(score, parts=(replace(one, measures=(replace(only, chords=marks),)), tab))
    raw = measure("".join(harm(1000 + 3000 * i, name) for i, (name, _) in enumerate(chords)))
    drawn, last = finished_system(picture(raw), score, start, boxes=boxes)
    root = etree.fromstring(drawn.svg)
    places = [
        float(g.get("transform").removeprefix("translate(").split()[0])
        for g in root.iter(f"{SVG}g")
        if g.get("class") == "chord-box"
    ]
    return [round((x + 245 - 1000) / 3000) for x in places], last, drawn


F, C7 = ("F", "0 2 3 3"), ("C7", "0 0 2 1")
LAST = (parse_chord("F"), shape(BANJO, *F))


@pytest.mark.parametrize(
    ("chords", "start", "where", "ends"),
    [
        ([F, F, C7, F], None, [0, 2, 3], LAST),
        ([F, F, C7, F], LAST, [2, 3], LAST),  # the line before ended with it
        ([F, ("N.C.", ""), F], LAST, [2], LAST),  # after a silence the shape is shown anew
        ([F, ("F", "5 5 7 8")], None, [0, 1], (LAST[0], shape(BANJO, "F", "5 5 7 8"))),
        ([F, ("N.C.", "")], None, [0], None),
        ([F], LAST, [], LAST),
    ],
)  # fmt: skip
def test_a_box_stands_where_chord_or_shape_changes(chords, start, where, ends):
    assert symbols(*chords, start=start)[:2] == (where, ends)
    assert symbols(*chords, start=start, boxes=False)[:2] == ([], ends)


def test_without_a_box_there_is_no_strip():
    """The symbols stand at 200, what reaches above the picture is 330 less that."""
    _, _, drawn = symbols(F, start=LAST)
    _, _, plain = symbols(F, start=LAST, boxes=False)
    assert drawn == plain
    assert drawn.height == 226.0 + 33.0  # nothing else is there, so that the row is at 0
    _, _, boxed = symbols(F)
    assert boxed.height == pytest.approx(drawn.height + 132.0)


def test_a_lower_box_among_higher_ones_ends_where_they_end():
    """Boxes of four and of five frets; the strip is as high as the highest."""
    wide = ("F", "1 2 3 6")
    _, _, drawn = symbols(F, wide)
    boxes = [
        g for g in etree.fromstring(drawn.svg).iter(f"{SVG}g") if g.get("class") == "chord-box"
    ]
    feet = []
    for box in boxes:
        y = float(box.get("transform").split(")")[0].split()[1])
        feet.append(y + 20 * max(float(e.get("y2")) for e in box.iter(f"{SVG}line")))
    assert feet[0] == pytest.approx(feet[1], abs=0.01)
    assert drawn.height == pytest.approx(226 + 33 + 12 + (8 + 13 * 6) * 2)


@pytest.mark.parametrize(
    ("gap", "frets", "scale"),
    [
        (None, "0 2 3 3", 20.0),
        (2000, "0 2 3 3", 20.0),
        (1040, "0 2 3 3", 20.0),  # a box is 3 * 11 + 15 + 4 units wide
        (520 * 1.5, "0 2 3 3", 15.0),
        (520, "0 2 3 3", 10.0),
        (100, "0 2 3 3", 10.0),  # never less than half
        (740 * 1.5, "1 3 3 2 1 1", 15.0),
    ],
)  # fmt: skip
def test_boxes_are_smaller_where_two_would_touch(gap, frets, scale):
    instrument = BANJO if len(frets.split()) == 4 else GUITAR
    mark = ChordMark(Fraction(0), parse_chord("F"), shape(instrument, "F", frets))
    xs = [500.0] if gap is None else [500.0, 500.0 + gap, 9000.0]
    assert engrave_svg._scale([(x, mark) for x in xs]) == scale


@pytest.mark.parametrize(
    ("inside", "row"),
    [
        ("", 712),
        ('<text x="0" y="900" font-size="100px"/>', 710),  # 70 of it stand above, 120 are white
        ('<text x="0" y="100" font-size="100px" text-anchor="end"/>', 712),
        ('<text x="0" y="800" font-size="100px" text-anchor="middle"/>', 610),
        ('<text x="0" y="800"/>', 680),
        ('<rect x="0" y="500"/>', 380),
        ('<rect x="0" y="-500"/>', -620),
    ],
)
def test_symbols_clear_words_and_frames(inside, row):
    root = etree.fromstring(picture(inside + harm(0, "F")))
    texts = [root.find(f".//{SVG}g/{SVG}text")]
    assert engrave_svg._symbol_row(root, texts, 5000.0) == pytest.approx(row)
    assert engrave_svg._symbol_row(root, texts, -900.0) == -900.0
    assert engrave_svg._symbol_row(root, [], -900.0) == 330.0


@pytest.mark.parametrize(
    ("drawn", "top"),
    [
        ("", 0.0),
        ('<use href="#E0A4-x" transform="translate(159, 1606) scale(1, 1)"/>', 1606 - 140),
        ('<use href="#E4A2-x" transform="translate(1.5, 1606.5) scale(1, 1)"/>', 1606.5 - 110),
        ('<use href="#E4A0-x" transform="translate(-9, -16) scale(1, 1)"/>', -16 - 210),
        ('<use href="#E610-x" transform="translate(0, 1606) scale(1, 1)"/>', 1606 - 215),
        ('<use href="#E050-x" transform="translate(0, 1606) scale(1, 1)"/>', 1606 - 320),
        ('<path d="M0 50 L9 20.5"/><path d="M0 80 L9 90"/>', 20.5 - 120),
        ('<path d="M0 -50 L9 20"/>', -50 - 120),
        ('<polygon points="1,70 2,-30.5 3,40"/><polygon points="5,300 5,200"/>', -30.5 - 120),
        ('<path d="M0 50 L9 60"/><use href="#E0A4-x" transform="translate(1, 40)"/>', 40 - 140),
    ],
)
def test_the_top_of_what_is_drawn(drawn, top):
    assert engrave_svg._content_top(drawn) == top


def test_only_tab_s_numbers_are_looked_at():
    score = tab_score([tab_event("0", tied_from=True)])
    notation = replace(score.parts[1], kind=PartKind.NOTATION)
    numbers = engrave_svg._unusual_numbers(replace(score, parts=(notation,)), "m1")
    assert (numbers.dead, numbers.bracketed, numbers.held) == (frozenset(),) * 3
