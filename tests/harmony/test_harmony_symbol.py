"""Reading chord symbols: forms, essential tones, and what is said about the others."""

from __future__ import annotations

import re
from collections import Counter
from typing import Any

import pytest
from drawn import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from accomp.errors import ChordError
from accomp.harmony import Chord, parse_chord, suffix
from accomp.harmony.table import chord_table


def degrees(symbol: str) -> str:
    return " ".join(tone.degree for tone in parse_chord(symbol).tones)


def essential(symbol: str) -> str:
    return " ".join(tone.degree for tone in parse_chord(symbol).tones if tone.essential)


def names(symbol: str) -> str:
    return " ".join(str(tone.spelling) for tone in parse_chord(symbol).tones)


# The forms that printed lead sheets use for one and the same chord. Common practice, no source.
SAME = [
    "C CM Cmaj CMA",
    "Cm Cmin Cmi C- C−",
    "Cmaj7 CM7 CΔ7 CΔ C△7 C∆7 Cma7 CMA7 C(maj7) Cmajor7",
    "Cm7 Cmin7 Cmi7 C-7 C−7 CMI7",
    "Cm7b5 Cm7♭5 Cø7 Cø CØ7 Cm7(b5) C-7b5 Cmin7b5 Cm7-5 C−7(♭5)",
    "Cdim7 C°7 Co7 Cº7",
    "Cdim C° Co Cm(b5) Cmb5",
    "C+ Caug C(#5) C+5 C(♯5)",
    "C7#5 C+7 Caug7 C7+5 C7+ C7(#5) C7♯5",
    "C7b9 C7(b9) C7-9 C7♭9 C7(♭9)",
    "C7#9 C7+9 C7(#9) C7♯9",
    "C7#11 C7(#11) C7+11 C7♯11",
    "C7b13 C7(b13) C7-13",
    "C7b9#11 C7(b9,#11) C7(b9)(#11) C7(b9#11) C7b9(#11) C7(♭9/♯11)",
    "C6/9 C69 C6(9) C6add9 Cmaj6(9)",
    "Cm6/9 Cm69 C-6/9 Cm6(9)",
    "Csus4 Csus C(sus4)",
    "C7sus4 C7sus Csus7 C7(sus4) C7SUS4",
    "C9sus4 C9sus C9(sus4)",
    "Cm(maj7) CmM7 Cmmaj7 C-Δ7 C-Δ CmΔ Cm(M7) CminMA7 C-(maj7) Cm#7",
    "Cmaj9 CM9 CΔ9 Cmaj7(9) Cmaj7add9",
    "C9 C7(9) C7add9",
    "Cadd9 C(add9) C(9)",
    "Cadd2 C2",
    "C5 Cno3 C(no3) C(omit3)",
    "C7no5 C7(no5) C7(omit5)",
    "C13b9 C13(b9) C13-9",
    "C7alt C7#5#9 C7(#5,#9) Calt C7alt(#9) C7alt(#5,#9)",
    "Cmaj7#11 CΔ7#11 CM7(#11) CΔ(♯11)",
    "C7sus4b9 C7b9sus4 C7sus(b9)",
    "Cm11 C-11 Cmin11",
    "C13 Cdom13",
]


@pytest.mark.parametrize("line", SAME)
def test_all_spellings_of_a_chord(line: str) -> None:
    first, *others = (parse_chord(symbol) for symbol in line.split())
    for other in others:
        assert (other.tones, other.kind, other.alterations) == (
            first.tones,
            first.kind,
            first.alterations,
        ), other
        assert other.drop_order == first.drop_order


@pytest.mark.parametrize("line", SAME)
def test_symbol_prints_as_it_came(line: str) -> None:
    for symbol in line.split():
        chord = parse_chord(f"{symbol}/G")
        assert str(chord) == chord.symbol == f"{symbol}/G"
        assert f"{chord.root}{chord.suffix}" == symbol
        assert str(chord.bass) == "G"


# Spelled as any theory book has them: the letter goes by the degree.
@pytest.mark.parametrize(
    ("symbol", "tones"),
    [
        ("C#7", "C# E# G# B"),
        ("Bb", "Bb D F"),
        ("Ebm7b5", "Eb Gb Bbb Db"),
        ("F#maj7#11", "F# A# C# E# B#"),
        ("A♭°7", "Ab Cb Ebb Gbb"),
        ("D♯m", "D# F# A#"),
        ("G7b9", "G B D F Ab"),
        ("G7#9", "G B D F A#"),
        ("Gb", "Gb Bb Db"),
        ("E+", "E G# B#"),
        ("Fsus2", "F G C"),
        ("B13", "B D# F# A C# G#"),
    ],
)
def test_tones_are_spelled_by_degree(symbol: str, tones: str) -> None:
    assert names(symbol) == tones


# Common practice, no source, by the drop rule of the chord table: third and seventh, what the
# symbol names, altered fifths; four at most.
@pytest.mark.parametrize(
    ("symbol", "needed", "dropped"),
    [
        ("C7", "3 b7", "5 1"),
        ("Cm7b5", "b3 b5 b7", "1"),
        ("C9", "3 b7 9", "5 1"),
        ("C13", "3 b7 13", "5 1 9"),
        ("C13b9", "3 b7 b9 13", "5 1"),
        ("C13b9#11", "3 b7 b9 13", "5 1 #11"),
        ("C7b9", "3 b7 b9", "5 1"),
        ("C7b5b9", "3 b5 b7 b9", "1"),
        ("C7b9#9", "3 b7 b9 #9", "5 1"),
        ("Cadd9", "1 3 9", "5"),
        ("C(b5)", "1 3 b5", ""),
        ("C6", "3 6", "5 1"),
        ("C7sus4", "4 b7", "5 1"),
        ("C7no5", "1 3 b7", ""),
        ("C9no5", "1 3 b7 9", ""),
        ("C9b9", "3 b7 b9", "5 1"),
    ],
)
def test_essential_and_drop_order(symbol: str, needed: str, dropped: str) -> None:
    assert essential(symbol) == needed
    assert " ".join(parse_chord(symbol).drop_order) == dropped


@pytest.mark.parametrize(
    ("symbol", "plain"),
    [("Bdim7/B", "Bdim7"), ("C6/9/C", "C6/9"), ("B♭m/Bb", "B♭m"), ("C#7/Db", "C#7"), ("F/F", "F")],
)
def test_a_bass_that_is_the_root_is_no_other_chord(symbol: str, plain: str) -> None:
    assert parse_chord(symbol) == parse_chord(plain)
    assert str(parse_chord(symbol)) == plain
    assert parse_chord(symbol).bass is None


@pytest.mark.parametrize("symbol", ["F/G", "C7/Bb", "C/E", "Am7/G♯", "C6/9/A", "F/C", "Dm/C#"])
def test_bass_chord_tone_or_not(symbol: str) -> None:
    above = symbol[: symbol.rindex("/")]
    chord, plain = parse_chord(symbol), parse_chord(above)
    assert chord.tones == plain.tones
    assert str(chord.bass) == symbol[symbol.rindex("/") + 1 :].replace("♯", "#")
    assert chord != plain
    assert plain.bass is None


def test_degree_of_a_note_and_by_pitch_class() -> None:
    chord = parse_chord("Bb7")
    assert chord.degree_of(62) == "3"  # D4
    assert chord.degree_of(68) == "b7"  # G#4 = Ab4
    assert chord.degree_of(60) is None
    assert chord.essential_pcs == {2, 8}
    assert {pc: tone.degree for pc, tone in chord.by_pc.items()} == {
        10: "1",
        2: "3",
        5: "5",
        8: "b7",
    }


def test_equal_by_symbol() -> None:
    assert parse_chord("C7") == parse_chord("C" + "7")
    assert parse_chord("Cm") != parse_chord("Cmin")
    assert len({parse_chord("C7"), parse_chord("C7"), parse_chord("C7/E")}) == 2


# --- errors --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "column", "message"),
    [
        (
            "Gm7bb5",
            4,
            "'Gm7bb5' is not a chord symbol: after 'Gm7' expected b5, #5, b6, b9, #11, b13 or '/'."
            " Did you mean 'Gm7b5'?",
        ),
        (
            "H7",
            1,
            "'H7' is not a chord symbol: expected a root, A to G, then b, # or nothing at its"
            " start. Did you mean 'B7'?",
        ),
        (
            "Gxyz",
            2,
            "'Gxyz' is not a chord symbol: after 'G' expected m, +, dim, 7, maj7, m7, dim7 or '/'.",
        ),
        (
            "C7#5b13",
            5,
            "'C7#5b13' is not a chord symbol: at 'b13', b13 is the same sound as the #5 already"
            " there.",
        ),
        (
            "C/H",
            2,
            "'C/H' is not a chord symbol: after 'C' expected a bass note after '/', as C7/E."
            " Did you mean 'C/B'?",
        ),
        (
            "Amq7",
            3,
            "'Amq7' is not a chord symbol: after 'Am' expected 7, 7b5, (maj7), 6, 9, 11, 13 or"
            " '/'. Did you mean 'Am7'?",
        ),
        ("", 1, "a chord symbol is missing here: expected one, as F, Gm7 or C7/E"),
    ],
)
def test_message_in_full(text: str, column: int, message: str) -> None:
    with pytest.raises(ChordError) as caught:
        parse_chord(text)
    (problem,) = caught.value.problems
    assert str(caught.value) == message
    assert problem.column == column
    assert problem.found == text
    assert caught.value.exit_code == 1


@pytest.mark.parametrize(
    ("text", "column", "meant"),
    [
        ("c7", 1, "C7"),
        ("am", 1, "Am"),
        ("Bbb7", 3, "A7"),
        ("C##", 3, "D"),
        ("C7 ", 3, "C7"),
        ("Cmaj7x", 6, "Cmaj7"),
        ("C(b5", 5, "C(b5)"),
        ("Cdin7", 2, "Cmin7"),
        ("Cmax7", 4, "Cma7"),
        ("C7/e", 3, "C7/E"),
        ("C7b5b", 5, "C7b5"),
        ("Cmajjj7", 5, "Cmaj7"),  # "Cmajj7" would be read, and nobody writes it
        ("CmajM7x", 7, "Cmaj7"),
        ("C79b", 3, "C7b9"),  # two signs swapped
        ("Bb/7D", 3, "Bb7/D"),
        ("C7alt(#5", 9, "C7alt(#5)"),  # alt may name its own alterations again
    ],
)
def test_did_you_mean(text: str, column: int, meant: str) -> None:
    with pytest.raises(ChordError, match=re.escape(f"Did you mean '{meant}'?")) as caught:
        parse_chord(text)
    assert caught.value.problems[0].column == column
    parse_chord(meant)


@pytest.mark.parametrize(
    ("same", "tones"),
    [
        ("C7b5#5 C7#5b5 C7(b5,#5) C+7b5", "1 3 b5 #5 b7"),
        ("C7b9#9 C7#9b9 C7(#9,b9)", "1 3 5 b7 b9 #9"),
        ("C7#5#9b9 C7b9#5#9 C7(#5b9#9)", "1 3 #5 b7 b9 #9"),
        ("C7alt(b9) C7#5b9", "1 3 #5 b7 b9"),  # which of them "alt" means is said in brackets
    ],
)
def test_what_is_altered_both_ways_has_both_in_any_order(same: str, tones: str) -> None:
    assert {symbol: degrees(symbol) for symbol in same.split()} == dict.fromkeys(
        same.split(), tones
    )


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("Cm7sus4", "stands in for a major third"),
        ("C5sus4", "no third for it to stand in for"),
        ("C6add6", "has a 6 already"),
        ("C7(maj7)", "has a b7 already"),
        ("Cm7#9", "same sound as the b3"),
        ("C7no9", "no 9 to leave out"),
        ("C5no5", "a single tone is no chord"),
        ("C7b9b9", "a b9 already"),
        ("C()", "expected b5"),
        ("C7(", "expected b5"),
        ("C/", "expected a bass note"),
        ("C7/E7", "expected a bass note"),
        ("C4", "expected m"),
        ("N.C.", "expected a root"),
        ("C" * 61, "61 characters"),
    ],
)
def test_reason(text: str, reason: str) -> None:
    with pytest.raises(ChordError, match=re.escape(reason)):
        parse_chord(text)


def test_control_characters_are_shown_harmless() -> None:
    with pytest.raises(ChordError) as caught:
        parse_chord("C\x1b[31m\n7")
    assert "\x1b" not in str(caught.value)
    assert "\n" not in str(caught.value)


@given(st.text(max_size=80))
@settings(max_examples=examples(300))
def test_any_text_is_a_chord_or_a_chord_error(text: str) -> None:
    try:
        chord = parse_chord(text)
    except ChordError as error:
        said = error.problems[0]
    else:
        assert str(chord) == text
        return
    assert 1 <= said.column <= len(text) + 1


# Text from the very pieces of chord symbols, which random text hardly ever hits.
_PIECES = sorted({*chord_table().by_spelling, *chord_table().change_by_spelling} | set("()/,♭♯°b#"))


@given(st.sampled_from("ABCDEFGH"), st.lists(st.sampled_from(_PIECES), max_size=6))
@settings(max_examples=examples(700))
def test_any_pieces_are_a_chord_or_a_chord_error(root: str, pieces: list[str]) -> None:
    text = root + "".join(pieces)
    try:
        chord = parse_chord(text)
    except ChordError as error:
        said = error.problems[0]
    else:
        _check_chord(chord, text)
        return
    assert 1 <= said.column <= len(text) + 1
    assert "\n" not in str(said)


def _check_chord(chord: Chord, text: str) -> None:
    """What every chord must be, however it was written."""
    assert str(chord) == text
    all_degrees = [tone.degree for tone in chord.tones]
    needed = [tone.degree for tone in chord.tones if tone.essential]
    assert len(set(all_degrees)) == len(all_degrees) >= 2
    assert len(chord.by_pc) == len(chord.tones)
    assert sorted([*needed, *chord.drop_order]) == sorted(all_degrees)
    assert 1 <= len(needed) <= 4
    for tone in chord.tones:
        assert tone.pc == (chord.root.pc + tone.semitones) % 12


@pytest.mark.parametrize(
    "text",
    [
        "C" + "+" * 59, "C" + "sus" * 19, "C(" + "b9," * 19, "C7" + "b9#9" * 14,
        "C7" + "+9" * 28 + "x", "C7(" + "+11" * 18,  # "+9" is "+" and "9", too
    ],
)  # fmt: skip
def test_of_a_repetition_no_place_is_read_again(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without that, each sign more would double the ways to read it."""
    seen: Counter[tuple[Any, int]] = Counter()
    changes = suffix._Reader.changes

    def counting(reader: Any, at: int, *state: bool, **more: bool) -> Any:
        seen[reader, at] += 1  # from each of the places before, in or out of brackets, fresh or not
        assert seen[reader, at] <= 4 * reader.longest + 1
        return changes(reader, at, *state, **more)

    monkeypatch.setattr(suffix._Reader, "changes", counting)
    with pytest.raises(ChordError):
        parse_chord(text)
    assert seen


@pytest.mark.parametrize(("size", "shown"), [(40, "C" + "x" * 39), (41, "C" + "x" * 38 + "…")])
def test_of_a_long_text_forty_signs_are_told(size: int, shown: str) -> None:
    with pytest.raises(ChordError, match=f"'{shown}'"):
        parse_chord("C" + "x" * (size - 1))
