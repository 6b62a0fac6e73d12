"""MusicXML element by element: what each fact of a score looks like in the file, whole."""

from __future__ import annotations

import io
import zipfile
from dataclasses import replace
from fractions import Fraction

import pytest
from hand_made import BANJO, UKULELE, arrangement, shape
from lxml import etree

from accomp.harmony import Interval, Key, Pitch, parse_chord
from accomp.rhythm.stroke import StrokeDirection
from accomp.score.notate import notate
from accomp.score.written import (
    Barline,
    ChordMark,
    Clef,
    Event,
    Jump,
    Mark,
    Measure,
    NoteValue,
    Part,
    PartKind,
    Score,
    WrittenNote,
)
from accomp.time import Meter
from accomp.write import musicxml, musicxml_directions
from accomp.write.musicxml_note import ACCIDENTALS, TYPES, write_event

DOWN, UP = StrokeDirection.DOWN, StrokeDirection.UP
FOUR = Meter.parse("4/4")


def inside(write, *args, **how) -> str:
    """What is written into an element."""
    parent = etree.Element("in")
    write(parent, *args, **how)
    text = etree.tostring(parent, encoding="unicode")
    return text.removeprefix("<in>").removesuffix("</in>").removesuffix("<in/>")


def measure(**more) -> Measure:
    rest = Event(Fraction(0), NoteValue(Fraction(1)), whole_measure=True)
    return replace(Measure(3, Fraction(1), FOUR, Key.parse("F"), (rest,)), **more)


def value(length: str, dots: int = 0, tuplet: tuple[int, int] = (1, 1)) -> NoteValue:
    return NoteValue(Fraction(length), dots, tuplet)


B3 = WrittenNote(Pitch.parse("Bb3"), -1, 2, 5)
D4 = WrittenNote(Pitch.parse("D4"), None, 1, 12)


def written(notes=(B3, D4), kind=PartKind.NOTATION, show=True, **more) -> str:
    """The notes of an event, without their names and what all of them have."""
    more.setdefault("value", value("1/4"))
    event = Event(Fraction(0), notes=notes, **more)
    found = inside(write_event, event, kind, 6, iter("abcdef").__next__, show_rests=show)
    return found.replace("<duration>6</duration>", "").replace("<voice>1</voice>", "")


def pitch(step: str, octave: int, alter: int = 0) -> str:
    more = f"<alter>{alter}</alter>" if alter else ""
    return f"<pitch><step>{step}</step>{more}<octave>{octave}</octave></pitch>"


HIGH = f'<note id="b"><chord/>{pitch("D", 4)}<type>quarter</type></note>'
QUARTER, FLAT = "<type>quarter</type>", "<accidental>flat</accidental>"


def low(after: str = "", notations: str = "") -> str:
    within = f"<notations>{notations}</notations>" if notations else ""
    return f'<note id="a">{pitch("B", 3, -1)}{QUARTER}{FLAT}{after}{within}</note>'


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ({}, low() + HIGH),
        ({"beams": ("begin", "forward hook")},
         low('<beam number="1">begin</beam><beam number="2">forward hook</beam>') + HIGH),
        ({"direction": DOWN}, low("", "<technical><down-bow/></technical>") + HIGH),
        ({"direction": UP}, low("", "<technical><up-bow/></technical>") + HIGH),
        ({"tremolo": 3},
         low("", '<ornaments><tremolo type="single">3</tremolo></ornaments>') + HIGH),
        ({"marks": frozenset({Mark.ACCENT})},
         low("", "<articulations><accent/></articulations>") + HIGH),
        ({"marks": frozenset({Mark.ACCENT, Mark.CHOKED})},
         low("", "<articulations><accent/><staccato/></articulations>") + HIGH),
        ({"bracket": "start+stop"},
         low("", '<tuplet type="start"/><tuplet type="stop"/>') + HIGH),
        ({"marks": frozenset({Mark.DEAD})},
         low("<notehead>x</notehead>")
         + HIGH.replace("</type>", "</type><notehead>x</notehead>")),
        ({"marks": frozenset({Mark.ROLL}), "direction": DOWN},
         low("", '<technical><down-bow/></technical><arpeggiate direction="up"/>')
         + HIGH.replace("</note>", '<notations><arpeggiate direction="up"/></notations></note>')),
        ({"marks": frozenset({Mark.ROLL}), "direction": UP},
         low("", '<technical><up-bow/></technical><arpeggiate direction="down"/>')
         + HIGH.replace("</note>", '<notations><arpeggiate direction="down"/></notations></note>')),
    ],
)  # fmt: skip
def test_the_lowest_note_of_a_stroke_carries_what_is_the_stroke_s(more, expected):
    assert written(**more) == expected


@pytest.mark.parametrize(
    ("tied", "ties"), [((True, False), ["stop"]), ((False, True), ["start"]),
                       ((True, True), ["stop", "start"])],
)  # fmt: skip
def test_ties_stand_on_every_note(tied, ties):
    found = written(tied_from=tied[0], tied_to=tied[1])
    for name in ("tie", "tied"):
        row = "".join(f'<{name} type="{one}"/>' for one in ties)
        assert found.count(row) == 2
        assert found.count(f"<{name} ") == 2 * len(ties)
    assert found.index("<tie ") < found.index("<type>") < found.index("<tied ")


def test_tab_has_string_and_fret_and_nothing_else_of_a_stroke():
    found = written(
        kind=PartKind.TAB, beams=("begin",), direction=DOWN, tremolo=3, bracket="start",
        marks=frozenset({Mark.ACCENT, Mark.ROLL, Mark.DEAD}),
    )  # fmt: skip
    tuplet = '<tuplet type="start" bracket="no" show-number="none"/>'

    def of(head: str, more: str, string: int, fret: int) -> str:
        return (
            f"{head}{QUARTER}<stem>none</stem><notehead>x</notehead><notations>{more}<technical>"
            f"<string>{string}</string><fret>{fret}</fret></technical></notations></note>"
        )

    low_one = of(f'<note id="a">{pitch("B", 3, -1)}', tuplet, 2, 5)
    assert found == low_one + of(f'<note id="b"><chord/>{pitch("D", 4)}', "", 1, 12)
    # A note that has no place on the strings gets its bow instead.
    lost = written((replace(B3, string=None),), kind=PartKind.TAB, direction=DOWN)
    assert "<technical><down-bow/></technical>" in lost
    assert "<technical>" not in written((replace(B3, fret=None),), kind=PartKind.TAB)


def test_slashes_are_slashes_even_where_dead():
    found = written((D4,), kind=PartKind.SLASH, marks=frozenset({Mark.DEAD}))
    assert found == (f'<note id="a">{pitch("D", 4)}{QUARTER}<notehead>slash</notehead></note>')


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ({}, '<note id="a"><rest/><type>quarter</type></note>'),
        ({"show": False}, '<note id="a" print-object="no"><rest/><type>quarter</type></note>'),
        ({"whole_measure": True, "value": value("1", 1)},
         '<note id="a"><rest measure="yes"/></note>'),
        ({"value": value("1/8", 2, (3, 2)), "bracket": "stop"},
         '<note id="a"><rest/><type>eighth</type><dot/><dot/><time-modification><actual-notes>3'
         "</actual-notes><normal-notes>2</normal-notes></time-modification><notations>"
         '<tuplet type="stop"/></notations></note>'),
        ({"bracket": "start", "show": False},
         '<note id="a" print-object="no"><rest/><type>quarter</type><notations>'
         '<tuplet type="start" bracket="no" show-number="none"/></notations></note>'),
    ],
)  # fmt: skip
def test_rests(more, expected):
    assert written((), **more) == expected


def test_durations_and_voices_come_in_the_order_of_the_standard():
    event = Event(Fraction(0), value("1/4", 1, (3, 2)), (B3,))
    found = inside(write_event, event, PartKind.NOTATION, 7, lambda: "x")
    tags = [e.tag for e in etree.fromstring(found)]
    assert tags == "pitch duration voice type dot accidental time-modification".split()
    assert "<duration>7</duration><voice>1</voice>" in found
    assert "<duration>7</duration><voice>1</voice>" in inside(
        write_event, replace(event, notes=()), PartKind.NOTATION, 7, lambda: "x"
    )


def test_names_of_note_values_and_signs():
    """`note-type-value` and `accidental-value` of MusicXML 4.0."""
    names = "breve whole half quarter eighth 16th 32nd 64th 128th".split()
    assert {Fraction(2, 2**n): name for n, name in enumerate(names)} == TYPES
    signs = "flat-flat flat natural sharp double-sharp".split()
    assert dict(enumerate(signs, -2)) == ACCIDENTALS
    for alter, name in ACCIDENTALS.items():
        assert f"<accidental>{name}</accidental>" in written((replace(B3, accidental=alter),))
    assert "<accidental>" not in written((B3,), kind=PartKind.TAB)


# Measures


PART = Part("Tenor banjo", PartKind.NOTATION, Clef("G", 2, -1), 106, (measure(),), BANJO)


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


def score(*parts: Part, **more) -> Score:
    made = Score("Kettle Lane", "", 168.0, Fraction(1, 4), 1.0, "Even four", parts or (PART,))
    return replace(made, **more)


def test_measures_are_written_with_what_stands_over_them_in_order():
    one = measure(
        number=0, repeat_start=True, segno=True, rehearsal="A & B", words="Vamp", to_coda=True
    )
    part = replace(PART, measures=(one, measure(number=1, rehearsal="B", words="w", added=True)))
    root = musicxml.musicxml_root(score(part, replace(part, silent=True)))
    first, second = root.find("part")
    assert dict(first.attrib) == {"number": "0", "id": "p1-m0", "implicit": "yes"}
    assert dict(second.attrib) == {"number": "1", "id": "p1-m1"}
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
