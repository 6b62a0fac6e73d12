"""What a MusicXML file says of the whole tune, and what chord symbols its harmonies are.

Kinds and degrees: MusicXML 4.0. Which part and which of several texts counts is ours.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from leadsheet_made import harmony, score
from lxml import etree

from accomp.harmony import Key
from accomp.intake.musicxml import read_musicxml
from accomp.intake.musicxml_harmony import NotTakenError, harmony_symbol
from accomp.intake.source import parse_xml
from accomp.intake.written import WrittenTune


def tune(text: str) -> WrittenTune:
    return read_musicxml(parse_xml(text.encode(), Path("lane.xml")), Path("lane.xml"))


@pytest.mark.parametrize(
    ("head", "title", "composer"),
    [
        ("<movement-title> A \n B </movement-title>", "A B", ""),
        ("<work><work-title>W</work-title></work><movement-title>M</movement-title>", "M", ""),
        ("<work><work-title>W</work-title></work><movement-title> </movement-title>", "W", ""),
        (
            "<credit><credit-type>composer</credit-type><credit-words>No</credit-words></credit>"
            "<credit><credit-type> title </credit-type><credit-words/></credit>"
            "<credit><credit-type>title</credit-type><credit-words>C</credit-words></credit>",
            "C", "",
        ),
        ("<credit><credit-words>No</credit-words></credit>", "lane", ""),
        ("<identification><creator>N</creator></identification>", "lane", "N"),
        (
            '<identification><creator>N</creator><creator type="music">M</creator>'
            "</identification>",
            "lane", "M",
        ),
        (
            '<identification><creator type="music">M</creator><creator type="composer"> C\nD '
            "</creator></identification>", "lane", "C D",
        ),
        ('<identification><creator type="poet">P</creator></identification>', "lane", ""),
        (
            '<identification><creator type="composer"> </creator>'
            '<creator type="composer">D</creator></identification>', "lane", "D",
        ),
    ],
)  # fmt: skip
def test_title_and_composer(head: str, title: str, composer: str) -> None:
    text = score("C").replace("<movement-title>Made Up</movement-title>", head)
    found = tune(text)
    assert (found.title, found.composer) == (title, composer)


@pytest.mark.parametrize(
    ("software", "ours"), [("accomp", True), (" accomp ", True), ("accomp 2", False), ("", False)]
)
def test_a_file_of_our_own_says_so(software: str, ours: bool) -> None:
    head = f"<identification><encoding><software>{software}</software></encoding></identification>"
    assert tune(score("C", head=head)).ours is ours
    other = head.replace("<software>", "<software>Other</software><software>")
    assert tune(score("C", head=other)).ours is ours


def with_parts(*parts: tuple[str, str]) -> str:
    """A file with a part for each of (name, its measure)."""
    names = "".join(
        f'<score-part id="P{at}"><part-name>{name}</part-name></score-part>'
        for at, (name, _) in enumerate(parts)
    )
    inside = "".join(
        f'<part id="P{at}"><measure number="1">{measure}</measure></part>'
        for at, (_, measure) in enumerate(parts)
    )
    return f"<score-partwise><part-list>{names}</part-list>{inside}</score-partwise>"


NOTE = "<note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration></note>"


def test_the_part_with_the_most_symbols_is_the_lead_sheet() -> None:
    one, two = harmony("C"), harmony("F") + harmony("G@1")
    for parts, said in (
        ((("Flute", NOTE), ("Lead", one + NOTE)), ["the part 'Flute' is not taken over"]),
        (
            (("Lead", two + NOTE), ("Flute", one + NOTE)),
            ["the part 'Flute' with its chord symbols is not taken over"],
        ),
        (
            (("One", one + NOTE), ("Two", one + NOTE)),
            ["the part 'Two' with its chord symbols is not taken over"],
        ),
        ((("", NOTE), ("Lead", one + NOTE)), ["the part 'P0' is not taken over"]),
        ((("x" * 61, NOTE), ("L", one)), [f"the part '{'x' * 60}' is not taken over"]),
        ((("a \n b", NOTE), ("L", one)), ["the part 'a b' is not taken over"]),
    ):
        found = tune(with_parts(*parts))
        assert [text for text in found.said if "part" in text] == said
        assert len(found.bars) == 1
        assert found.bars[0].chords
    empty = with_parts(("L", NOTE)).replace('<measure number="1">' + NOTE + "</measure>", "")
    assert tune(empty).bars == []


def with_key(key: str) -> tuple[str, tuple[str, ...]]:
    text = score("C").replace("<key><fifths>0</fifths><mode>major</mode></key>", key)
    found = tune(text)
    return str(found.bars[0].key), found.said


STRANGE = "bar 1: its key signature is of no major or minor key; left out"
NONE = "no key is given; C is taken"
MOVED = "a transposing part: chords and melody are at concert pitch"


def transpose(semitones: int, steps: int | None = None) -> str:
    diatonic = "" if steps is None else f"<diatonic>{steps}</diatonic>"
    return f"<transpose>{diatonic}<chromatic>{semitones}</chromatic></transpose>"


@pytest.mark.parametrize(
    ("key", "more", "name", "said"),
    [
        ("<key><fifths>-3</fifths></key>", "", "Eb", ()),
        ("<key><fifths> 2 </fifths><mode> Minor </mode></key>", "", "Bm", ()),
        ("<key><fifths>7</fifths></key>", "", "C#", ()),
        ("<key><fifths>-7</fifths></key>", "", "Cb", ()),
        ("<key><fifths>8</fifths></key>", "", "C", (STRANGE, NONE)),
        ("<key><fifths>99</fifths></key>", "", "C", (STRANGE, NONE)),
        ("<key><key-step>B</key-step></key>", "", "C", (STRANGE, NONE)),
        ("", "", "C", (NONE,)),
        (
            "<key><fifths>0</fifths><mode>dorian</mode></key>", "", "Dm",
            ("bar 1: its mode is dorian; the key is taken as Dm",),
        ),
        # at concert pitch, by the other name where there is no signature
        ("<key><fifths>2</fifths></key>", transpose(-2, -1), "C", (MOVED,)),
        ("<key><fifths>2</fifths></key>", transpose(-2), "C", (MOVED,)),
        ("<key><fifths>7</fifths></key>", transpose(2, 1), "Eb", (MOVED,)),
        ("<key><fifths>-7</fifths></key>", transpose(-2, -1), "A", (MOVED,)),
        ("<key><fifths>-7</fifths></key>", transpose(5, 3), "E", (MOVED,)),
        ("<key><fifths>-7</fifths><mode>minor</mode></key>", transpose(5, 3), "C#m", (MOVED,)),
        ("<key><fifths>7</fifths><mode>minor</mode></key>", transpose(2, 1), "Cm", (MOVED,)),
        ("<key><fifths>2</fifths></key>", transpose(12, 7), "D", ()),
        ("<key><fifths>2</fifths></key>", transpose(-24), "D", ()),
    ],
)  # fmt: skip
def test_keys(key: str, more: str, name: str, said: tuple[str, ...]) -> None:
    assert with_key(key + more) == (name, said)


def test_a_key_has_bounds() -> None:
    text = score("C")
    above = text[: text.index("<key>")].count("\n") + 1
    for fifths, fine in ((99, True), (-99, True), (100, False), (-100, False), ("1.5", False)):
        found = tune(text.replace("<key><fifths>0<", f"\n\n<key>\n<fifths>{fifths}<"))
        assert (found.problems == []) is fine
        if not fine:
            assert found.problems[0].message == (
                "'Made Up': the fifths of <key> must be a whole number from -99 to 99, and this "
                f"is '{fifths}'."
            )
            assert found.problems[0].line == above + 2


@pytest.mark.parametrize(
    ("inside", "meter"),
    [
        ("<beats> 6 </beats><beat-type> 8 </beat-type>", "6/8"),
        (
            "<beats>2</beats><beat-type>4</beat-type><beats>3</beats><beat-type>8</beat-type>",
            "2/4+3/8",
        ),
        ("<beats>2</beats><beat-type>4</beat-type><beats>3</beats>", "2/4"),
        ("<senza-misura/><beats>2</beats><beat-type>4</beat-type>", ""),
        (f"<beats>{'2' * 30}</beats><beat-type>4</beat-type>", "2" * 20),
        ("<beats/><beat-type/>", "/"),
    ],
)
def test_meters(inside: str, meter: str) -> None:
    text = score("C").replace("<beats>4</beats><beat-type>4</beat-type>", inside)
    assert tune(text).bars[0].meter == meter


def at_bar(number: int, inside: str, *measures: str) -> WrittenTune:
    start = f'<measure number="{number}">'
    return tune(score(*measures).replace(start, start + inside))


def test_tempo_is_the_first_and_its_changes_are_said() -> None:
    first, other = '<sound tempo="120"/>', '<sound tempo="90"/>'
    for number, said in (
        (1, ()),
        (2, ("bar 2: the tempo given here is taken from the beginning",)),
    ):
        found = at_bar(number, first, "C", "F")
        assert (found.tempo, found.said) == (Fraction(30), said)
    both = at_bar(1, first, "C", "F", "G")
    assert both.tempo == 30
    text = score("C", "F", "G").replace('<measure number="1">', f'<measure number="1">{first}')
    text = text.replace('<measure number="2">', f'<measure number="2">{first}')
    assert tune(text).said == ()
    text = text.replace('<measure number="3">', f'<measure number="3">{other}')
    assert tune(text).said == ("bar 3: a change of tempo is not taken over",)


def test_of_two_coda_signs_without_words_the_first_is_where_to_leave() -> None:
    def codas(*measures: str) -> str:
        return "".join(
            "t" * bar.signs.to_coda + "c" * bar.signs.coda or "."
            for bar in tune(score(*measures)).bars
        )

    assert codas("C", "Coda F", "G") == ".c."
    assert codas("Coda C", "F", "Coda G") == "t.c"
    assert codas("Coda C", "Coda F", "Coda G") == "tcc"
    assert codas("Coda C", "F ToCoda", "Coda G") == "ctc"


def test_numbers_of_bars_and_endings_over_several() -> None:
    text = score("C", "1. F", "G 1]", "2. D", "E").replace('number="2">', ">", 1)
    text = text.replace('number="3">', 'number=" 1\n2 3456789012">')
    found = tune(text)
    assert [bar.number for bar in found.bars] == ["1", "2", "1 2 345678", "4", "5"]
    assert [sorted(bar.endings) for bar in found.bars] == [[], [1], [1], [2], [2]]
    assert [bar.signs.opens_ending for bar in found.bars] == [False, True, False, True, False]


def test_a_measure_without_notes_is_a_full_bar_and_chords_stand_within_it() -> None:
    text = score("C", "F@4", "G@9 :Q3")
    found = tune(text)
    assert [bar.chords[0].onset for bar in found.bars] == [
        0, 1 - Fraction(1, 64), Fraction(3, 4) - Fraction(1, 64),
    ]  # fmt: skip
    empty = tune(score("C :Q0", "", meter="3/4"))
    assert [bar.length for bar in empty.bars] == [Fraction(3, 4)] * 2
    tiny = score("C@4 :Q1").replace("<divisions>1<", "<divisions>100<")
    assert tune(tiny).bars[0].chords[0].onset == 0  # nothing before the bar


# --- harmonies -----------------------------------------------------------------------------------


def symbol(xml: str, ours: bool = False) -> str | None:
    return harmony_symbol(etree.fromstring(xml), ours=ours)


def degree(value: int, alter: int = 0, kind: str = "add", shown: bool = True) -> str:
    hidden = "" if shown else ' print-object="no"'
    return (
        f"<degree{hidden}><degree-value>{value}</degree-value><degree-alter>{alter}</degree-alter>"
        f"<degree-type>{kind}</degree-type></degree>"
    )


def made(word: str, more: str = "", text: str | None = None, name: str = "") -> str:
    """A harmony with degrees, a text that is printed, or a type."""
    xml = harmony(word).replace("</harmony>", f"{more}</harmony>")
    if text is not None:
        xml = xml.replace("<kind>", f'<kind text="{text}">')
    return xml.replace("<harmony>", f'<harmony type="{name}">') if name else xml


BASS = "<bass><bass-step>{}</bass-step></bass>"


@pytest.mark.parametrize(
    ("xml", "ours", "found"),
    [
        (made("C"), False, "C"),
        (made("C:none"), False, None),
        (made("Bb:minor"), False, "Bbm"),
        (made("C", name="explicit"), False, "C"),
        (made("C", BASS.format("G")), False, "C/G"),
        # inversions name their bass
        *(
            (made("C:dominant", f"<inversion>{n}</inversion>"), False, f"C7{bass}")
            for n, bass in enumerate(("", "/E", "/G", "/Bb", "", ""))
        ),
        (made("C:dominant", "<inversion>1</inversion>" + BASS.format("D")), False, "C7/D"),
        # degrees
        (made("C:dominant", degree(9, -1)), False, "C7b9"),
        (made("C:dominant", degree(5, 1, "alter")), False, "C7#5"),
        (made("C", degree(9)), False, "Cadd9"),
        (made("C:dominant", "<degree><degree-value>9</degree-value></degree>"), False, "C9"),
        # the text that is printed, where it says the same or more
        (made("C:suspended-fourth", text="7sus4"), False, "C7sus4"),
        (made("C:dominant", text="7"), False, "C7"),
        (made("C:augmented", text="aug"), False, "C+"),
        (made("C:augmented", text="aug"), True, "Caug"),
        (made("C:major", text="m"), False, "C"),
        (made("C:major", text="no chord at all"), False, "C"),
        (made("C:dominant", degree(9, -1, shown=False), text="7(b9)"), False, "C7(b9)"),
        (made("C:dominant", degree(9, -1), text="7(b9)"), False, "C7b9"),
        (
            made("C:dominant", degree(9, -1) + degree(5, 1, "alter", shown=False), text="7alt"),
            False,
            "C7#5b9",
        ),
        (made("C:suspended-fourth", BASS.format("G"), text="7sus4"), False, "C7sus4/G"),
        (made("C:suspended-fourth", text="x" * 61), False, "Csus4"),
    ],
)
def test_symbols(xml: str, ours: bool, found: str | None) -> None:
    assert symbol(xml, ours) == found


FUNCTION = "<harmony>{}<kind>major</kind></harmony>"


@pytest.mark.parametrize(
    ("xml", "message"),
    [
        (made("A", text="x", name="alternate"), "'Ax' is only an alternative and is left out"),
        (
            made("A:minor", text="x" * 50, name="alternate"),
            f"'A{'x' * 39}' is only an alternative and is left out",
        ),
        (made("A:odd", text="odd"), "'Aodd' (odd) is a chord that no symbol says"),
        (made(f"A:{'x' * 61}"), f"'A' ({'x' * 60}) is a chord that no symbol says"),
        (FUNCTION.format(""), "the chord is given by its function and not by its root"),
        (
            FUNCTION.format("<function> V </function>"),
            "the chord is given by its function (V) and not by its root",
        ),
        (
            FUNCTION.format("<numeral><numeral-root>5</numeral-root></numeral>"),
            "the chord is given by its function (5) and not by its root",
        ),
        (
            FUNCTION.format(f"<function>{'x' * 61}</function>"),
            f"the chord is given by its function ({'x' * 60}) and not by its root",
        ),
    ],
)
def test_harmonies_that_are_no_symbols(xml: str, message: str) -> None:
    with pytest.raises(NotTakenError) as caught:
        symbol(xml)
    assert str(caught.value) == message


def test_what_becomes_of_a_harmony_that_is_no_symbol() -> None:
    text = score("C", "F", "G").replace(harmony("F"), made("A", name="alternate"))
    text = text.replace(harmony("G"), made("A:odd"))
    found = tune(text)
    assert [[one.symbol for one in bar.chords] for bar in found.bars] == [["C"], [], [None]]
    assert found.said == (
        "bar 2: 'A' is only an alternative and is left out",
        "bar 3: 'A' (odd) is a chord that no symbol says; nobody plays there",
    )
    assert found.bars[0].key == Key.parse("C")
