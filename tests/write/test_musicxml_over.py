"""What stands over the staff in MusicXML, and the copy for the engraver."""

from __future__ import annotations

import io
import zipfile
from dataclasses import replace
from fractions import Fraction

import pytest
from hand_made import BANJO, arrangement, shape
from lxml import etree
from musicxml_made import B3, D4, PART, inside, measure, score, value

from accomp.harmony import parse_chord
from accomp.rhythm.stroke import StrokeDirection
from accomp.score.notate import notate
from accomp.score.written import (
    ChordMark,
    Clef,
    Event,
    Jump,
    PartKind,
)
from accomp.time import Meter
from accomp.write import musicxml, musicxml_directions

DOWN, UP = StrokeDirection.DOWN, StrokeDirection.UP
FOUR = Meter.parse("4/4")


# Over the staff


@pytest.mark.parametrize(
    ("more", "words", "unit", "number", "quarters", "swing"),
    [
        ({}, "Even four ", "quarter", "168", "168", None),
        ({"tempo": 112.5, "beat": Fraction(3, 8)}, "Even four ", "quarter.", "112.5", "168.75",
         None),
        ({"tempo": 60.0, "beat": Fraction(1, 2)}, "Even four ", "half", "60", "120", None),
        ({"tempo": 60.0, "beat": Fraction(3, 4)}, "Even four ", "half.", "60", "180", None),
        ({"tempo": 60.0, "beat": Fraction(1, 8)}, "Even four ", "eighth", "60", "30", None),
        ({"swing": 2.0}, "Even four, swing ", "quarter", "168", "168", "2/1"),
        ({"swing": 1.5}, "Even four, swing ", "quarter", "168", "168", "3/2"),
        ({"swing": 2.0, "feel": "Old Swing"}, "Old Swing ", "quarter", "168", "168", "2/1"),
        ({"swing": 2.0, "feel": ""}, "Swing ", "quarter", "168", "168", "2/1"),
        ({"feel": ""}, None, "quarter", "168", "168", None),
        ({"swing": 1.7}, "Even four, swing ", "quarter", "168", "168", "17/10"),
    ],
)  # fmt: skip
def test_the_tempo_mark(more, words, unit, number, quarters, swing):
    (direction,) = etree.fromstring(
        f"<in>{inside(musicxml_directions.write_tempo, score(**more))}</in>"
    )
    assert direction.get("placement") == "above"
    assert direction.findtext("direction-type/words") == words
    mark = direction.find("direction-type/metronome")
    dot = "." if mark.find("beat-unit-dot") is not None else ""
    assert mark.findtext("beat-unit") + dot == unit
    assert mark.findtext("per-minute") == number
    assert direction.find("sound").get("tempo") == quarters
    found = direction.find("sound/swing")
    said = None if found is None else f"{found.findtext('first')}/{found.findtext('second')}"
    assert said == swing
    assert found is None or found.findtext("swing-type") == "eighth"


@pytest.mark.parametrize(
    ("more", "words", "sound"),
    [
        ({"to_coda": True}, "To Coda", 'tocoda="coda"'),
        ({"fine": True}, "Fine", 'fine="yes"'),
        ({"jump": Jump.DA_CAPO_AL_FINE}, "D.C. al Fine", 'dacapo="yes"'),
        ({"jump": Jump.DA_CAPO_AL_CODA}, "D.C. al Coda", 'dacapo="yes"'),
        ({"jump": Jump.DAL_SEGNO_AL_FINE}, "D.S. al Fine", 'dalsegno="segno"'),
        ({"jump": Jump.DAL_SEGNO_AL_CODA}, "D.S. al Coda", 'dalsegno="segno"'),
    ],
)
def test_words_that_lead_elsewhere(more, words, sound):
    assert inside(musicxml_directions.write_departures, measure(**more)) == (
        f'<direction placement="above"><direction-type><words>{words}</words></direction-type>'
        f"<sound {sound}/></direction>"
    )
    assert inside(musicxml_directions.write_departures, measure()) == ""


def test_signs_to_which_they_lead():
    def sign(name: str) -> str:
        return (
            f'<direction placement="above"><direction-type><{name}/></direction-type>'
            f'<sound {name}="{name}"/></direction>'
        )

    write = musicxml_directions.write_arrival
    assert inside(write, measure(segno=True)) == sign("segno")
    assert inside(write, measure(coda=True)) == sign("coda")
    assert inside(write, measure(segno=True, coda=True)) == sign("segno") + sign("coda")


def harmony(symbol: str, made=None, offset=None) -> str:
    chord = None if symbol == "N.C." else parse_chord(symbol)
    mark = ChordMark(Fraction(0), chord, made)
    return inside(musicxml_directions.write_harmony, mark, offset)


def root(step: str, alter: int = 0) -> str:
    more = f"<root-alter>{alter}</root-alter>" if alter else ""
    return f"<root><root-step>{step}</root-step>{more}</root>"


@pytest.mark.parametrize(
    ("symbol", "offset", "expected"),
    [
        ("N.C.", None,
         '<root><root-step text="">C</root-step></root><kind text="N.C.">none</kind>'),
        ("F", 0, root("F") + '<kind text="">major</kind>'),
        ("Bb7", 3, root("B", -1) + '<kind text="7">dominant</kind><offset>3</offset>'),
        ("F#m7b5", -1,
         root("F", 1) + '<kind text="m7♭5">half-diminished</kind><offset>-1</offset>'),
        ("C/Bb", None, root("C") + '<kind text="">major</kind><bass><bass-step>B</bass-step>'
         "<bass-alter>-1</bass-alter></bass>"),
        ("C7b9", None, root("C") + '<kind text="7">dominant</kind><degree><degree-value>9'
         '</degree-value><degree-alter>-1</degree-alter><degree-type text="">add</degree-type>'
         "</degree>"),
        ("C7no5", None, root("C") + '<kind text="7">dominant</kind><degree><degree-value>5'
         "</degree-value><degree-alter>0</degree-alter><degree-type>subtract</degree-type>"
         "</degree>"),
    ],
)  # fmt: skip
def test_chord_symbols(symbol, offset, expected):
    assert harmony(symbol, offset=offset) == f"<harmony>{expected}</harmony>"


def frame(symbol: str, made) -> str:
    found = harmony(symbol, made)
    assert found.startswith('<harmony print-frame="yes">')
    return found[found.index("<frame>") + 7 : found.index("</frame>")]


def string(number: int, fret: int, finger: int = 0, barre: str = "") -> str:
    more = f"<fingering>{finger}</fingering>" if finger else ""
    more += f'<barre type="{barre}"/>' if barre else ""
    return f"<frame-note><string>{number}</string><fret>{fret}</fret>{more}</frame-note>"


def test_chord_boxes():
    head = "<frame-strings>4</frame-strings><frame-frets>4</frame-frets>"
    barred = shape(BANJO, "C7", "4 3 5 3", "2 1 3 1", 3)
    assert frame("C7", barred) == (
        '<frame-strings>4</frame-strings><frame-frets>4</frame-frets>'
        '<first-fret text="3fr" location="right">3</first-fret>'
        + string(4, 4, 2) + string(3, 3, 1, "start") + string(2, 5, 3) + string(1, 3, 1, "stop")
    )  # fmt: skip
    opened = shape(BANJO, "F", "0 2 3 x", "0 1 2 0")
    assert frame("F", opened) == head + string(4, 0) + string(3, 2, 1) + string(2, 3, 2)
    long = shape(BANJO, "F", "1 2 3 6", "1 2 3 4")
    assert frame("F", long) == (
        "<frame-strings>4</frame-strings><frame-frets>6</frame-frets>"
        + string(4, 1, 1) + string(3, 2, 2) + string(2, 3, 3) + string(1, 6, 4)
    )  # fmt: skip


def test_a_packed_file_says_what_it_is_before_it_is_unpacked():
    """ "Compressed .MXL files", MusicXML 4.0: the type first, unpacked; times do not change."""
    data = musicxml.zipped(b"<score-partwise/>" * 50)
    assert data[30:].startswith(b"mimetypeapplication/vnd.recordare.musicxml")
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        rows = archive.infolist()
        assert archive.read("score.musicxml") == b"<score-partwise/>" * 50
        (place,) = etree.fromstring(archive.read("META-INF/container.xml")).iter("rootfile")
    assert place.get("full-path") == "score.musicxml"
    assert [(row.filename, row.compress_type) for row in rows] == [
        ("mimetype", 0), ("META-INF/container.xml", 8), ("score.musicxml", 8),
    ]  # fmt: skip
    assert {row.date_time for row in rows} == {(1980, 1, 1, 0, 0, 0)}
    assert {(row.create_system, row.external_attr) for row in rows} == {(3, 0o644 << 16)}


# The engraver's copy


def test_the_engraver_s_copy_has_lines_and_neither_tempo_nor_names():
    from accomp.write.engrave import paper_copy

    strokes = [("0", "1", "down", "plain", "ring", "all")]
    made = notate(arrangement([("F", "0 2 3 3")] * 5, strokes, sections=["A"] * 4 + ["B"]))
    copy = paper_copy(made, (0, 2, 4))
    for part in copy.findall("part"):
        measures = part.findall("measure")
        lines = [n for n, one in enumerate(measures) if one.find("print") is not None]
        assert lines == [2, 4]
        assert {one[0].tag for one in measures[2::2]} == {"print"}
        assert {one.find("print").get("new-page") for one in measures[2::2]} == {"yes"}
    assert [e.text for e in copy.iter("rehearsal")] == ["A"]  # none over a single last bar
    assert not copy.findall(".//frame")
    assert not copy.findall(".//metronome")
    bass = replace(made.parts[0], kind=PartKind.BASS, name="Bass")
    names = paper_copy(replace(made, parts=(bass,)), (0,)).findall(".//part-name")
    assert [name.text for name in names] == ["Bass"]
    short = notate(arrangement([("F", "0 2 3 3")], strokes, sections=["A"]))
    assert [e.text for e in paper_copy(short, (0,)).iter("rehearsal")] == ["A"]


def test_bows_of_the_engraver_s_copy_stand_where_strokes_change():
    """Not where the measure before has the same, unless a section begins; silence forgets none."""
    from accomp.write.engrave import paper_copy

    strokes = [
        ("0", "1/2", "down", "plain", "ring", "all"),
        ("1/2", "1", "up", "accent", "ring", "all"),
    ]
    bars = [("F", "0 2 3 3"), ("F", "0 2 3 3"), ("N.C.", ""), ("F", "0 2 3 3"), ("F", "0 2 3 3")]
    made = notate(arrangement(bars, strokes, sections=["A"] * 4 + ["B"]))
    made = replace(made, parts=made.parts[:1])
    (only,) = made.parts
    measures = list(only.measures)
    turned = tuple(
        replace(event, direction=UP if event.direction == DOWN else DOWN)
        for event in measures[3].events
    )
    measures[1] = replace(measures[1], events=measures[0].events)
    changed = replace(only, measures=(*measures, replace(measures[3], number=6, events=turned)))
    copy = paper_copy(replace(made, parts=(changed,)), (0,))
    rows = copy.find("part").findall("measure")
    assert [len(row.findall(".//down-bow")) for row in rows] == [1, 0, 0, 0, 1, 1]
    assert [len(row.findall(".//up-bow")) for row in rows] == [1, 0, 0, 0, 1, 1]
    # What else stands beside a bow stays, and nothing empty does.
    assert [len(row.findall(".//accent")) for row in rows] == [1, 1, 0, 1, 1, 1]
    assert [len(row.findall(".//notations")) for row in rows] == [2, 1, 0, 1, 2, 2]
    assert not [e for e in copy.iter("technical", "notations") if not len(e)]


@pytest.mark.parametrize("alone", [True, False])
def test_tab_has_stems_and_beams_where_it_stands_alone_and_no_ties_where_not(alone):
    from accomp.write.engrave import paper_copy

    events = (
        Event(Fraction(0), value("1/16"), (B3, D4), beams=("begin", "begin"), tied_to=True),
        Event(Fraction(1, 16), value("1/16"), (B3, D4), beams=("end", "end"), tied_from=True),
        Event(Fraction(1, 8), value("1/8")),
    )
    tab = replace(PART, kind=PartKind.TAB, clef=Clef("TAB", 5))
    tab = replace(tab, measures=(measure(events=events),))
    parts = (tab,) if alone else (PART, tab)
    rows = list(paper_copy(score(*parts), (0,)).findall("part")[-1].iter("note"))
    beams = [[(e.get("number"), e.text) for e in row.iter("beam")] for row in rows]
    stems = [row.findtext("stem") for row in rows]
    tied = [[e.get("type") for e in row.iter("tied")] for row in rows]
    if alone:
        both = [[("1", one), ("2", one)] for one in ("begin", "end")]
        assert beams == [both[0], [], both[1], [], []]
        assert stems == ["up"] * 4 + [None]
        assert tied == [["start"]] * 2 + [["stop"]] * 2 + [[]]
        tags = [e.tag for e in rows[0]]
        assert tags.index("beam") == tags.index("stem") + 1
    else:
        assert beams == [[]] * 5
        assert stems == ["none"] * 4 + [None]
        assert tied == [[]] * 5
