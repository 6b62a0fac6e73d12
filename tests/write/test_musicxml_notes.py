"""Notes and rests in MusicXML, each whole."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from lxml import etree
from musicxml_made import B3, D4, inside, value

from accomp.rhythm.stroke import StrokeDirection
from accomp.score.written import (
    Event,
    Mark,
    PartKind,
)
from accomp.time import Meter
from accomp.write.musicxml_note import ACCIDENTALS, TYPES, write_event

DOWN, UP = StrokeDirection.DOWN, StrokeDirection.UP
FOUR = Meter.parse("4/4")


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
    found = inside(write_event, event, PartKind.NOTATION, 7, lambda: "x", show_rests=True)
    tags = [e.tag for e in etree.fromstring(found)]
    assert tags == "pitch duration voice type dot accidental time-modification".split()
    assert "<duration>7</duration><voice>1</voice>" in found
    assert "<duration>7</duration><voice>1</voice>" in inside(
        write_event, replace(event, notes=()), PartKind.NOTATION, 7, lambda: "x", show_rests=True
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
