"""Bars of an ABC tune as written: bar lines, endings, signs, lengths, pitches.

Rules: the ABC standard 2.1, abcnotation.com/wiki/abc:standard:v2.1 (from memory); that a later
ending is as long as the first one is ours.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from accomp.intake.abc import read_abc
from accomp.intake.written import WrittenBar, WrittenTune

HEAD = "X:1\nT:Made Up\nM:4/4\nL:1/4\nQ:1/4=100\nK:C\n"


def written(music: str, head: str = HEAD) -> WrittenTune:
    (tune,) = read_abc(f"{head}{music}\n", Path("made-up.abc"))
    return tune


def signs(bar: WrittenBar) -> str:
    """All signs of a bar in short."""
    said = bar.signs
    ends = ",".join(map(str, sorted(bar.endings)))
    return " ".join(
        filter(
            None,
            (
                "|:" * said.repeat_start,
                f"[{ends}" * said.opens_ending or f"({ends})" * bool(ends),
                said.mark and f"={said.mark}",
                "segno" * said.segno,
                "coda" * said.coda,
                f"x{4 * bar.length}" if bar.length != 1 else "",
                "to" * said.to_coda,
                "fine" * said.fine,
                said.jump,
                "||" * said.double,
                f":|{said.repeat_end}" * bool(said.repeat_end),
            ),
        )
    )


BARS = [
    ("C4|D4|", ["", ""]),
    ("C4|D4||E4", ["", "||", ""]),
    ("C4|]D4[|E4|", ["||", "||", ""]),
    ("|C4|", [""]),
    ("||C4|", [""]),
    # repeats
    ("|:C4:|", ["|: :|2"]),
    ("|: C4 |:D4:|", ["|:", "|: :|2"]),
    ("C4:|", [":|2"]),
    ("C4::D4:|", [":|2", "|: :|2"]),
    ("C4:|:D4:|", [":|2", "|: :|2"]),
    ("C4:||:D4:|", ["|| :|2", "|: :|2"]),
    ("|::C4::|D4|", ["|: :|3", ""]),
    ("|:::C4:::|", ["|: :|4"]),
    ("C4:|]", ["|| :|2"]),
    ("C4:|:|D4|", ["|| :|2", ""]),
    ("C4::|:|D4|", ["|| :|3", ""]),  # the greater number stays
    ("C4||:D4|", ["||", "|:"]),
    (":|C4|", [""]),  # nothing before it
    ("C4 : D4|", ["x8"]),
    # endings
    ("|:C4|1D4:|2E4||F4|", ["|:", "[1 :|2", "[2 ||", ""]),
    ("|:C4|[1D4:|[2E4|]F4|", ["|:", "[1 :|2", "[2 ||", ""]),
    ("|:C4 [1D4:|[2E4|]", ["|:", "[1 :|2", "[2 ||"]),
    ("C4|[1,3D4:|[2E4:|[4F4|", ["", "[1,3 :|2", "[2 :|2", "[4"]),
    ("C4|[1-3D4|E4:|[4F4|G4|", ["", "[1,2,3", "(1,2,3) :|2", "[4", "(4)"]),
    ("C4|[1D4|E4||F4|", ["", "[1", "(1) ||", ""]),
    ("C4|[1D4|\nP:B\nE4|", ["", "[1", "=B"]),  # a part ends it
    # a later ending is as long as the first
    ("C4|1D4:|2E4|F4|G4|", ["", "[1 :|2", "[2", "", ""]),
    ("C4|1D4|E4:|2F4|G4|A4|", ["", "[1", "(1) :|2", "[2", "(2)", ""]),
    ("C4|1D4|E4:|2F4|]G4|A4|", ["", "[1", "(1) :|2", "[2 ||", "", ""]),
    ("C4|1D4|E4|]F4|1G4:|2A4|B4|", ["", "[1", "(1) ||", "", "[1 :|2", "[2", ""]),
    # signs stand at the bar before the bar line, or in their bar
    ("C4!fine!|D4|", ["fine", ""]),
    ("C4|!fine!|D4|", ["fine", ""]),
    ("C4!D.C.!|D4!D.S.!|", ["D.C.", "D.S."]),
    ("C4|D4|!D.C.!", ["", "D.C."]),
    ("!D.C.!|C4|", ["D.C."]),
    ("C4!dacoda!|!coda!D4|", ["to", "coda"]),
    ("C4|!segno!D4|", ["", "segno"]),
    ("C4|SD4|OE4|", ["", "segno", "coda"]),
    ("C4|\nP: B  2 \nD4|", ["", "=B 2"]),
    # lengths
    ("C|D4|E3|", ["x1", "", "x3"]),
    ("Z3|C4|", ["", "", "", ""]),
    ("X2|C4|", ["", "", ""]),
    ("Z|C4|", ["", ""]),
    ("Z0|C4|", [""]),
    ("C4&D4|E4|", ["", ""]),
    ("C2>D2E2<F2|", ["x8"]),
]


@pytest.mark.parametrize(("music", "bars"), BARS)
def test_bars_and_their_signs(music: str, bars: list[str]) -> None:
    assert [signs(bar) for bar in written(music).bars] == bars


# Decorations that lead somewhere, as people write them; all others are the player's.
DECORATIONS = {
    "segno": "segno", "Segno": "segno", "coda": "coda", "dacoda": "to", "da coda": "to",
    "to coda": "to", "ToCoda": "to", "fine": "fine", "FINE": "fine", "dacapo": "D.C.",
    "da capo": "D.C.", "D.C.": "D.C.", "D.C. al coda": "D.C.", "D.C. al fine": "D.C.",
    "D.S.": "D.S.", "d.s. al coda": "D.S.", "D.S. al Fine": "D.S.", "trill": "", "": "",
}  # fmt: skip


@pytest.mark.parametrize(("name", "sign"), DECORATIONS.items())
def test_decorations(name: str, sign: str) -> None:
    assert [signs(bar) for bar in written(f"C2!{name}!D2|").bars] == [sign]


@pytest.mark.parametrize(
    ("text", "sign"),
    [
        ("_Fine", "fine"), ("Fine", "fine"), ("^D.C.", "D.C."), ("Da Capo", "D.C."),
        ("dal segno", "D.S."), ("^To Coda", "to"), ("after D.C.", "D.C."), ("play D.C.", ""),
        ("^", ""), (" ", ""),
    ],
)  # fmt: skip
def test_words_that_lead_somewhere(text: str, sign: str) -> None:
    assert [signs(bar) for bar in written(f'C2"{text}"D2|').bars] == [sign]


def melody(tune: WrittenTune) -> str:
    """Notes as "onset:length:midi" in quarters, "~" where they are tied."""
    return " ".join(
        f"{4 * one.onset}:{4 * one.length}:{one.pitch.midi}{'~' * one.tied}"
        for bar in tune.bars
        for one in bar.notes
    )


NOTES = [
    # lengths, in units of a quarter
    ("C", "0:1:60"), ("C2", "0:2:60"), ("C/", "0:1/2:60"), ("C//", "0:1/4:60"),
    ("C3/2", "0:3/2:60"), ("C/3", "0:1/3:60"), ("C3/", "0:3/2:60"), ("C3//", "0:3/4:60"),
    ("C9999/512", "0:9999/512:60"),
    # octaves
    ("C,", "0:1:48"), ("C,,", "0:1:36"), ("c", "0:1:72"), ("c'", "0:1:84"), ("c,", "0:1:60"),
    ("C,,,,,", "0:1:0"), ("C,,,,,,D", "1:1:62"), ("g''''", "0:1:127"), ("a''''D", "1:1:62"),
    # accidentals last to the bar line in all octaves, and a key signature under them
    ("^CC=CC", "0:1:61 1:1:61 2:1:60 3:1:60"), ("__CC", "0:1:58 1:1:58"), ("^^C", "0:1:62"),
    ("==C", "0:1:60"), ("^CD|C", "0:1:61 1:1:62 0:1:60"), ("^Cc", "0:1:61 1:1:73"),
    ("[K:D]FC|[K:F]B", "0:1:66 1:1:61 0:1:70"), ("[K:D]=FF|F", "0:1:65 1:1:65 0:1:66"),
    ("^C [1 C", "0:1:61 0:1:60"),
    # ties, to the same note only, over bar lines too
    ("C-C", "0:1:60 1:1:60~"), ("C-D", "0:1:60 1:1:62"), ("C-|C", "0:1:60 0:1:60~"),
    ("C|-C", "0:1:60 0:1:60"), ("C-zC", "0:1:60 2:1:60"), ("-C", "0:1:60"),
    ("^C-|C", "0:1:61 0:1:60"),
    # broken rhythm
    ("C>D", "0:3/2:60 3/2:1/2:62"), ("C<D", "0:1/2:60 1/2:3/2:62"),
    ("C>>D", "0:7/4:60 7/4:1/4:62"), ("C<<<D", "0:1/8:60 1/8:15/8:62"),
    ("z>D", "3/2:1/2:62"), ("C>z", "0:3/2:60"), ("C>|D", "0:3/2:60 0:1/2:62"),
    ("C|>D", "0:1:60 0:1:62"), (">C", "0:1:60"), ("C>>D>E", "0:7/4:60 7/4:3/4:62 5/2:1/2:64"),
    # tuplets
    ("(3CDE F", "0:2/3:60 2/3:2/3:62 4/3:2/3:64 2:1:65"), ("(2CD E", "0:3/2:60 3/2:3/2:62 3:1:64"),
    ("(3:2:2CD E", "0:2/3:60 2/3:2/3:62 4/3:1:64"), ("(3:4CDE", "0:4/3:60 4/3:4/3:62 8/3:4/3:64"),
    ("(3::2CD E", "0:2/3:60 2/3:2/3:62 4/3:1:64"), ("(3:0:0CDE", "0:2/3:60 2/3:2/3:62 4/3:2/3:64"),
    ("(1C D", "0:2:60 2:1:62"), ("(0C", "0:1:60"), ("(3zDE F", "2/3:2/3:62 4/3:2/3:64 2:1:65"),
    # chords: the highest note, as long as the first one and the chord itself
    ("[CE]", "0:1:64"), ("[ec]2", "0:2:76"), ("[C2E]", "0:2:64"), ("[C/E]3", "0:3/2:64"),
    ("[C,,,,,,]D", "1:1:62"), ("[]D", "0:1:62"), ('["F"CE]', "0:1:64"), ("[^CE]C", "0:1:64 1:1:61"),
    # rests, grace notes, a second voice, spaces
    ("zC", "1:1:60"), ("x2C", "2:1:60"), ("{d}C", "0:1:60"), ("C&E|D", "0:1:60 0:1:62"),
    ("CyD", "0:1:60 1:1:62"), ("~C.D", "0:1:60 1:1:62"),
]  # fmt: skip


@pytest.mark.parametrize(("music", "notes"), NOTES)
def test_notes(music: str, notes: str) -> None:
    assert melody(written(music)) == notes


# How many notes last as long as how many: ABC 2.1, "Duplets, triplets, quadruplets, etc."; n is 3
# in compound time and else 2.
@pytest.mark.parametrize("meter", ["3/8", "6/8", "9/8", "12/8", "6/4", "2/4", "3/4", "4/4", "5/4"])
def test_tuplets_in_every_meter(meter: str) -> None:
    n = 3 if meter in ("3/8", "6/8", "9/8", "12/8", "6/4") else 2
    table = {2: 3, 3: 2, 4: 3, 5: n, 6: 2, 7: n, 8: 3, 9: n}
    for count, time in table.items():
        tune = written(f"({count}{'C' * count}", HEAD.replace("4/4", meter))
        assert {one.length for bar in tune.bars for one in bar.notes} == {Fraction(time, 4 * count)}
        assert sum(bar.length for bar in tune.bars) == Fraction(time, 4)


def chords(tune: WrittenTune) -> list[str]:
    return [
        " ".join(f"{one.symbol or 'N.C.'}@{4 * one.onset}" for one in bar.chords)
        for bar in tune.bars
    ]


@pytest.mark.parametrize(
    ("music", "bars", "said"),
    [
        ('"C"C2"F"D2|', ["C@0 F@2"], []),
        ('"C"C4"F"|D4|', ["C@0", "F@0"], []),  # it belongs to the note after it
        ('"C"C4|D4"F"|', ["C@0", ""], ["bar 2: a chord symbol without a note is left out"]),
        ('"C"C4"F"|"G"D4|', ["C@0", "F@0"],
         ["bar 2: G stands at the same place as F and is left out"]),
        ('"C""F"C4|', ["C@0"], ["bar 1: F stands at the same place as C and is left out"]),
        ('"C"C|"F"D4|"x?"E4|', ["C@0", "F@0", ""],
         ["bar 2: 'x?' is no chord symbol and is left out; the chord before it goes on"]),
        ('"^C"C4|', [""], ["bar 1: remarks not taken over"]),  # a chord's name makes it none
        ('"C"C4|D4|&|', ["C@0", ""], ["bar 2: a second voice in the same bar not taken over"]),
        ('"^slow"C4|"_slow"C4|"<slow"C4|"@slow"C4|', ["", "", "", ""],
         ["bars 1, 2, 3, 4: remarks not taken over"]),
        ('"N.C."C4|"^N.C."D4|', ["N.C.@0", "N.C.@0"], []),
        ('["C"CE]4|', ["C@0"], ["bar 1: the lower notes of chords in the melody not taken over"]),
        ('"C"C4|[Q:90]D4|', ["C@0", ""], ["bar 2: a change of tempo is not taken over"]),
        ('"C"C4|\nw:la\nD4|\nW:lo\n', ["C@0", ""], ["bar 2: lyrics not taken over"]),
        ('"C"C4|[K:G#]D4|', ["C@0", ""], ["bar 2: G# has no key signature; C is taken"]),
    ],
)  # fmt: skip
def test_chords_and_what_is_said(music: str, bars: list[str], said: list[str]) -> None:
    tune = written(music)
    assert (chords(tune), list(tune.said)) == (bars, said)


def test_bars_count_from_0_where_the_first_is_short() -> None:
    assert [bar.number for bar in written("C|D4|E4|").bars] == ["0", "1", "2"]
    assert [bar.number for bar in written("C4|D4|").bars] == ["1", "2"]
    assert [bar.number for bar in written("C5|D4|").bars] == ["1", "2"]
    free = HEAD.replace("M:4/4", "M:none")  # nobody knows whether it is short
    assert [bar.number for bar in written("C|D4|", free).bars] == ["1", "2"]


def test_an_ending_cut_short_is_said_where_its_bracket_goes_back() -> None:
    said = "bar 3: the ending before it is taken to be as long as the first one"
    for music, expected in (
        ("C4|1D4:|2E4|F4:|", ("bar 4" + said[5:],)),
        ("C4|1D4:|2E4|F4|", ()),
        ("[1D4:|2E4|F4|G4:|", (said,)),
        ("[1D4:|2E4|F4|G4|3A4:|", ()),
    ):
        assert written(music).said == expected


def test_lines_of_bars() -> None:
    assert [bar.line for bar in written("C4|D4|\nE2\nE2|F4|").bars] == [7, 7, 8, 9]
