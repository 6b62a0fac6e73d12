"""MusicXML kinds and degrees: out of a chord, and back into a symbol."""

from __future__ import annotations

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

from accomp.errors import ChordError
from accomp.harmony import Alteration, Chord, Spelling, parse_chord, symbol_from_kind
from accomp.harmony.kind import tones_of_kind
from accomp.harmony.table import KindRow, chord_table

C = Spelling("C")
CHANGED = (
    "7b5 7b9 7#9 7#11 7b13 7b9#9 7#5b9 9b5 9#11 13b9 13#11 11b9 maj7#11 maj7b5 m7b9 m9b5 add9 "
    "madd9 6add11 7sus4b9 maj7sus4 7sus2 7no5 9no3 m(b6) (b5) m7b5b9 dim(maj7) m7add11 sus4add2"
).split()
ALL = [*(row.spellings[0] for row in chord_table().rows), *CHANGED]


def alterations(symbol: str) -> list[tuple[str, int, int]]:
    return [(a.action, a.degree, a.alter) for a in parse_chord(symbol).alterations]


# MusicXML 4.0, degree-alter: an added degree counts from a dominant chord, so the minor seventh of
# a 7sus4 is an added 7 with alter 0, and a major one alter 1; an altered degree from its kind.
@pytest.mark.parametrize(
    ("symbol", "kind", "expected"),
    [
        ("C7", "dominant", []),
        ("C7b9", "dominant", [("add", 9, -1)]),
        ("C7b5", "dominant", [("alter", 5, -1)]),
        ("C13b9", "dominant-13th", [("alter", 9, -1)]),
        ("C13#11", "dominant-13th", [("alter", 11, 1)]),
        ("C7sus4", "suspended-fourth", [("add", 7, 0)]),
        ("Cmaj7sus4", "suspended-fourth", [("add", 7, 1)]),
        ("Cdim(maj7)", "diminished", [("add", 7, 1)]),
        ("Cadd9", "major", [("add", 9, 0)]),
        ("C7no5", "dominant", [("subtract", 5, 0)]),
        ("C7b9#9", "dominant", [("add", 9, -1), ("add", 9, 1)]),
        ("Cm7b5", "half-diminished", []),
        ("C+7", "augmented-seventh", []),
        ("Cm(maj7)", "major-minor", []),
        ("C6/9", "major-sixth", [("add", 9, 0)]),
    ],
)
def test_kind_and_degrees(symbol: str, kind: str, expected: list[tuple[str, int, int]]) -> None:
    assert parse_chord(symbol).kind == kind
    assert alterations(symbol) == expected


@pytest.mark.parametrize("suffix", ALL)
def test_symbol_to_kind_and_back(suffix: str) -> None:
    chord = parse_chord(f"Eb{suffix}/G")
    symbol = symbol_from_kind(chord.root, chord.kind, chord.alterations, chord.bass)
    back = parse_chord(symbol)
    assert back.tones == chord.tones
    assert (back.kind, back.alterations) == (chord.kind, chord.alterations)
    assert back.bass == chord.bass


@pytest.mark.parametrize("row", chord_table().rows, ids=lambda row: row.spellings[0] or "major")
def test_a_named_chord_gets_its_first_name(row: KindRow) -> None:
    chord = parse_chord(f"F{row.spellings[0]}")
    assert symbol_from_kind(chord.root, chord.kind, chord.alterations) == chord.symbol


@pytest.mark.parametrize(
    ("kind", "changes", "symbol"),
    [
        # Written by other programs' habits: altering what is not there, adding to a dominant.
        ("dominant", [("alter", 9, -1)], "C7b9"),
        ("dominant", [("subtract", 3, 0), ("add", 4, 0)], "C7sus4"),
        ("minor", [("add", 7, 1)], "Cm(maj7)"),
        ("major", [("add", 6, 0)], "C6"),
        ("dominant-13th", [("subtract", 11, 0)], "C13"),
        ("suspended-fourth", [("subtract", 3, 0)], "Csus4"),
        ("major", [("alter", 5, -1)], "C(b5)"),
        ("other", [("add", 3, 0), ("add", 5, 0)], "C"),
        ("other", [("add", 5, 0)], "C5"),
    ],
)
def test_files_in_the_wild(kind: str, changes: list[tuple[str, int, int]], symbol: str) -> None:
    assert symbol_from_kind(C, kind, [Alteration(*change) for change in changes]) == symbol


def test_bass_and_double_signs() -> None:
    assert symbol_from_kind(C, "major", (), Spelling("E")) == "C/E"
    assert symbol_from_kind(C, "major", (), Spelling("C")) == "C"
    assert symbol_from_kind(Spelling("B", -2), "minor", (), Spelling("F", 2)) == "Am/G"


@pytest.mark.parametrize("kind", ["German", "Italian", "Tristan", "pedal", "none", "", "nonsense"])
def test_what_no_symbol_says(kind: str) -> None:
    with pytest.raises(ChordError, match="no chord symbol says what stands here"):
        symbol_from_kind(C, kind)


@given(
    st.sampled_from([row.kind for row in chord_table().rows]),
    st.lists(
        st.builds(
            Alteration,
            st.sampled_from(["add", "alter", "subtract"]),
            st.integers(0, 15),
            st.integers(-3, 3),
        ),
        max_size=4,
    ),
)
def test_any_degrees_are_a_symbol_or_a_chord_error(kind: str, changes: list[Alteration]) -> None:
    try:
        symbol = symbol_from_kind(C, kind, changes)
    except ChordError:
        return
    chord = parse_chord(symbol)
    assert {tone.semitones % 12 for tone in chord.tones} == {
        degree.semitones % 12 for degree in tones_of_kind(kind, changes)
    }


def _with_music21(chord: Chord) -> set[int]:
    symbol = music21.harmony.ChordSymbol(root=str(chord.root).replace("b", "-"), kind=chord.kind)
    for change in chord.alterations:
        symbol.addChordStepModification(
            music21.harmony.ChordStepModification(change.action, change.degree, change.alter)
        )
    return set(symbol.pitchClasses)


# music21 reads the same kind and degrees. It knows no difference between add and alter of a
# seventh (it counts from the major scale), so symbols with an added seventh are not asked.
@pytest.mark.parametrize(
    "suffix", ["7b5", "7b9", "7#9", "7#11", "7b13", "9b5", "maj7#11", "add9", "m7b9", "9no3"]
)
def test_degrees_as_music21_applies_them(suffix: str) -> None:
    chord = parse_chord(f"Bb{suffix}")
    assert _with_music21(chord) == set(chord.by_pc)
