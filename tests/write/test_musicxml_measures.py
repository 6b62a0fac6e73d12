"""Measures, bar lines, headers and packed files of MusicXML, each element whole."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hand_made import UKULELE
from lxml import etree
from musicxml_made import B3, D4, PART, inside, measure, score, value

from accomp.harmony import Interval, Key, Pitch, parse_chord
from accomp.score.written import (
    Barline,
    ChordMark,
    Clef,
    Event,
    PartKind,
)
from accomp.time import Meter
from accomp.write import musicxml


def attributes(part=PART, divisions=None, **more) -> str:
    found = inside(musicxml.write_attributes, part, measure(**more), divisions)
    return found.removeprefix("<attributes>").removesuffix("</attributes>")


KEY = "<key><fifths>-1</fifths><mode>major</mode></key>"
TIME = "<time><beats>4</beats><beat-type>4</beat-type></time>"
CLEF = "<clef><sign>G</sign><line>2</line><clef-octave-change>-1</clef-octave-change></clef>"


def transposed(*values: int) -> str:
    names = ("diatonic", "chromatic", "octave-change")
    rows = zip(names, values, strict=False)
    return f"<transpose>{''.join(f'<{n}>{v}</{n}>' for n, v in rows)}</transpose>"


@pytest.mark.parametrize(
    ("divisions", "more", "expected"),
    [
        (None, {}, ""),
        (6, {}, f"<divisions>6</divisions>{KEY}{TIME}{CLEF}"),
        (None, {"new_key": True}, KEY),
        (None, {"new_key": True, "key": Key.parse("F#m")},
         "<key><fifths>3</fifths><mode>minor</mode></key>"),
        (None, {"new_meter": True}, TIME),
        (None, {"new_meter": True, "meter": Meter.parse("6/8")},
         "<time><beats>6</beats><beat-type>8</beat-type></time>"),
        (None, {"rests": 4},
         "<measure-style><multiple-rest>4</multiple-rest></measure-style>"),
        (None, {"transpose": Interval(-1, -2)}, transposed(-1, -2)),
        (None, {"transpose": Interval(-7, -12)}, transposed(0, 0, -1)),
        (None, {"transpose": Interval(-8, -14)}, transposed(-1, -2, -1)),
        (None, {"transpose": Interval(12, 21)}, transposed(5, 9, 1)),
        (None, {"transpose": Interval(6, 11)}, transposed(6, 11)),
    ],
)  # fmt: skip
def test_what_changes_at_the_start_of_a_measure(divisions, more, expected):
    assert attributes(divisions=divisions, **more) == expected


def test_clefs_and_tunings():
    plain = replace(PART, clef=Clef("F", 4))
    assert attributes(plain, 1).endswith("<clef><sign>F</sign><line>4</line></clef>")
    tab = replace(PART, kind=PartKind.TAB, clef=Clef("TAB", 5))
    names = [("C", 3), ("G", 3), ("D", 4), ("A", 4)]
    rows = "".join(
        f'<staff-tuning line="{n}"><tuning-step>{step}</tuning-step>'
        f"<tuning-octave>{octave}</tuning-octave></staff-tuning>"
        for n, (step, octave) in enumerate(names, 1)
    )
    details = f'<staff-details show-frets="numbers"><staff-lines>4</staff-lines>{rows}'
    assert attributes(tab, 1).endswith(f"</clef>{details}</staff-details>")
    assert attributes(replace(tab, instrument=None), 1).endswith("</clef>")
    low_one = replace(UKULELE, strings=(Pitch.parse("Bb2"), Pitch.parse("F#3")))
    found = attributes(replace(tab, instrument=low_one), 1)
    assert "<tuning-step>B</tuning-step><tuning-alter>-1</tuning-alter>" in found
    assert "<tuning-step>F</tuning-step><tuning-alter>1</tuning-alter>" in found


def barlines(**more) -> str:
    one = measure(**more)
    return "|".join(
        inside(write, one).replace("<barline ", "<").replace("</barline>", "")
        for write in (musicxml._write_left_barline, musicxml._write_right_barline)
    )


def ending(numbers: str, kind: str, text: str = "") -> str:
    head = f'<ending number="{numbers}" type="{kind}"'
    return f"{head}>{text}</ending>" if text else f"{head}/>"


BACK = '<bar-style>light-heavy</bar-style>{}<repeat direction="backward"{}/>'


@pytest.mark.parametrize(
    ("more", "left", "right"),
    [
        ({"repeat_start": True},
         '<bar-style>heavy-light</bar-style><repeat direction="forward"/>', None),
        ({"barline": Barline.DOUBLE}, "", "<bar-style>light-light</bar-style>"),
        ({"barline": Barline.FINAL}, "", "<bar-style>light-heavy</bar-style>"),
        ({"repeat_end": 2}, "", BACK.format("", "")),
        ({"repeat_end": 3}, "", BACK.format("", ' times="3"')),
        ({"repeat_end": 3, "ending": (1, 2), "ending_edge": "stop"}, "",
         BACK.format(ending("1,2", "stop"), "")),
        ({"repeat_end": 2, "ending": (1,), "ending_edge": "start+stop"}, ending("1", "start"),
         BACK.format(ending("1", "stop"), "")),
        ({"ending": (2,), "ending_edge": "start+discontinue"}, ending("2", "start"),
         ending("2", "discontinue")),
        ({"ending": (1, 2, 3), "ending_edge": "start"}, ending("1,2,3", "start", "1.–3."), None),
        ({"ending": (1, 2), "ending_edge": "start"}, ending("1,2", "start"), None),
        ({"ending": (1, 3, 4), "ending_edge": "start"}, ending("1,3,4", "start"), None),
        ({"ending": (1, 2, 3), "ending_edge": "stop"}, "", ending("1,2,3", "stop")),
        ({"repeat_start": True, "ending": (1,), "ending_edge": "start"},
         "<bar-style>heavy-light</bar-style>" + ending("1", "start")
         + '<repeat direction="forward"/>', None),
    ],
)  # fmt: skip
def test_bar_lines_repeats_and_endings(more, left, right):
    found_left, found_right = barlines(**more).split("|")
    assert found_left == (f'<location="left">{left}' if left else '<location="left"/>')
    assert found_right == ("" if right is None else f'<location="right">{right}')


def test_measures_are_written_with_what_stands_over_them_in_order():
    one = measure(
        number=0, repeat_start=True, segno=True, rehearsal="A & B", words="Vamp", to_coda=True
    )
    part = replace(
        PART,
        measures=(
            one,
            measure(number=1, rehearsal="B", words="w", added=True, barline=Barline.FINAL),
        ),
    )
    root = musicxml.musicxml_root(score(part, replace(part, silent=True)))
    first, second = root.find("part")
    assert dict(first.attrib) == {"number": "0", "id": "p1-m0", "implicit": "yes"}
    assert dict(second.attrib) == {"number": "1", "id": "p1-m1"}
    assert (first[-1].tag, second[-1].get("location")) == ("direction", "right")
    said = [
        e.tag + ":" + ",".join(i.tag for i in e.iter() if i is not e and i.tag != "direction-type")
        for e in first
        if e.tag in ("barline", "direction", "attributes", "note")
    ]
    assert [one.split(",")[0] for one in said] == [
        "barline:bar-style", "attributes:divisions", "direction:segno", "direction:rehearsal",
        "direction:words", "direction:words", "note:rest", "direction:words",
    ]  # fmt: skip
    assert [e.text for e in first.iter("words")] == ["Even four ", "Vamp", "To Coda"]
    assert [(e.text, e.get("enclosure")) for e in root.iter("rehearsal")] == [
        ("A & B", "square"), ("B", "none"),
    ]  # fmt: skip
    # The second part has neither tempo nor names nor words, but the signs.
    other = root.findall("part")[1]
    assert [e.text for e in other.iter("words")] == ["To Coda"]
    assert len(other.findall(".//segno")) == 1
    assert other[0].find("note").get("print-object") == "no"
    assert [e.get("id") for e in other.iter("note")] == ["p2-m0-n1", "p2-m1-n1"]


@pytest.mark.parametrize(
    ("more", "divisions"),
    [
        ({}, 2),
        ({"events": (Event(Fraction(0), value("1/16"), (B3,)),)}, 4),
        ({"events": (Event(Fraction(1, 12), value("1/4"), (B3,)),)}, 6),
        ({"events": (Event(Fraction(0), value("1/8", 0, (3, 2)), (B3,)),)}, 6),
        ({"chords": (ChordMark(Fraction(1, 32), None, None),)}, 8),
        ({"length": Fraction(5, 20)}, 2),
        ({"length": Fraction(1, 20)}, 10),
        ({"events": (Event(Fraction(0), value("1/64"), whole_measure=True),)}, 2),
    ],
)
def test_a_quarter_has_the_least_divisions_that_hold_everything(more, divisions):
    assert musicxml._divisions(score(replace(PART, measures=(measure(**more),)))) == divisions


def test_a_chord_stands_before_the_note_under_which_it_comes():
    """A change under a held note is so many divisions after it; one at its end is the next's."""
    events = (
        Event(Fraction(0), value("1/2"), (B3,)),
        Event(Fraction(1, 2), value("1/2"), (D4,)),
    )
    marks = tuple(
        ChordMark(Fraction(at), parse_chord(symbol), None)
        for at, symbol in (("0", "F"), ("1/4", "C"), ("1/2", "Bb"), ("7/8", "D"))
    )
    parent = etree.Element("in")
    one = measure(events=events, chords=marks)
    musicxml._write_events(parent, PART, one, 2, iter("abcd"))
    found = [
        (e.findtext("root/root-step") or e.findtext("pitch/step"), e.findtext("offset"))
        for e in parent
    ]
    assert found == [("F", None), ("C", "2"), ("B", None), ("B", None), ("D", "3"), ("D", None)]
    assert [e.findtext("duration") for e in parent.iter("note")] == ["4", "4"]
    # Over a rest that fills a measure of three quarters, the last is within it.
    parent = etree.Element("in")
    musicxml._write_events(
        parent, PART, measure(length=Fraction(3, 4), chords=marks[:3]), 2, iter("abcd")
    )
    assert [e.tag for e in parent] == ["harmony"] * 3 + ["note"]
    assert parent.findtext("note/duration") == "6"


@pytest.mark.parametrize(("bracketed", "groups"), [(0, []), (1, []), (2, [0, 3]), (3, [0, 4])])
def test_the_list_of_parts_and_its_bracket(bracketed, groups):
    names = ["One <1>", "Two", "Three"]
    parts = [replace(PART, name=name, program=n, silent=n == 2) for n, name in enumerate(names, 1)]
    root = etree.Element("in")
    musicxml.write_header(root, score(*parts, bracketed=bracketed, composer="N. Obody"))
    rows = list(root.find("part-list"))
    assert [at for at, row in enumerate(rows) if row.tag == "part-group"] == groups
    for at, kind in zip(groups, ("start", "stop"), strict=False):
        inner = "<group-symbol>bracket</group-symbol><group-barline>yes</group-barline>"
        end = f">{inner}</part-group>" if kind == "start" else "/>"
        text = etree.tostring(rows[at], encoding="unicode")
        assert text == f'<part-group number="1" type="{kind}"{end}'
    listed = [etree.tostring(row, encoding="unicode") for row in rows if row.tag == "score-part"]
    assert listed[0] == (
        '<score-part id="P1"><part-name>One &lt;1&gt;</part-name><score-instrument id="P1-I1">'
        "<instrument-name>One &lt;1&gt;</instrument-name></score-instrument>"
        '<midi-instrument id="P1-I1"><midi-channel>1</midi-channel>'
        "<midi-program>1</midi-program></midi-instrument></score-part>"
    )
    assert ["<volume>0</volume>" in row for row in listed] == [False, True, False]
    assert root.findtext("work/work-title") == "Kettle Lane"
    assert root.findtext("identification/creator[@type='composer']") == "N. Obody"
    assert [dict(e.attrib) for e in root.iter("supports")] == [
        {"element": "accidental", "type": "yes"}, {"element": "beam", "type": "yes"},
    ]  # fmt: skip


def test_no_part_is_on_the_channel_of_the_drums():
    root = etree.Element("in")
    musicxml.write_header(root, score(*[PART] * 12, title="", composer=""))
    found = [int(e.text) for e in root.iter("midi-channel")]
    assert found == [1, 2, 3, 4, 5, 6, 7, 8, 9, 11, 12, 13]
    assert root.find("work") is None
    assert root.find("identification/creator") is None
