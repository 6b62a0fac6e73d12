"""Chords in other keys: spelled as a musician would, suffix untouched."""

from __future__ import annotations

import music21
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from accomp.harmony import Interval, Key, Spelling, parse_chord, transpose_chord
from accomp.harmony.table import chord_table

ROOTS = [step + sign for step in "ABCDEFG" for sign in ("", "b", "#")]
SUFFIXES = [*chord_table().by_spelling, "7(b9)", "7b9#11", "7sus4(b9)", "7♭9", "m7(♭5)"]
INTERVALS = [
    Interval(steps, semitones) for steps, semitones in enumerate([0, 2, 4, 5, 7, 9, 11])
] + [
    Interval(1, 1),
    Interval(2, 3),
    Interval(3, 6),
    Interval(4, 6),
    Interval(5, 8),
    Interval(6, 10),
]


@pytest.mark.parametrize(
    ("symbol", "interval", "result"),
    [
        ("Bb", Interval(3, 5), "Eb"),  # B flat's fourth is E flat, not D sharp
        ("F7", Interval(4, 7), "C7"),
        ("B♭7/D", Interval(3, 5), "E♭7/G"),
        ("F♯m7♭5", Interval(1, 2), "G♯m7♭5"),
        ("C6/9/E", Interval(1, 1), "Db6/9/F"),
        ("C#7", Interval(6, 11), "B#7"),  # a name with one sign is kept
        ("G#7/B#", Interval(1, 2), "A#7/D"),  # C## is D
        ("Cbmaj7", Interval(1, 1), "Cmaj7"),  # Dbb is C
        ("Bb7#9", -Interval(3, 5), "F7#9"),
    ],
)
def test_transposed(symbol: str, interval: Interval, result: str) -> None:
    assert str(transpose_chord(parse_chord(symbol), interval)) == result


@given(st.sampled_from(ROOTS), st.sampled_from(SUFFIXES), st.sampled_from(INTERVALS))
def test_up_then_down_is_identity(root: str, suffix: str, interval: Interval) -> None:
    up = Spelling.parse(root).up(interval)
    assume(abs(up.alter) < 2)  # else the name is made plainer on the way
    chord = parse_chord(root + suffix)
    there = transpose_chord(chord, interval, real_signs=False)
    assert transpose_chord(there, -interval, real_signs=False) == chord
    assert there.suffix == chord.suffix
    assert there.kind == chord.kind


@given(st.sampled_from(ROOTS), st.sampled_from(SUFFIXES), st.sampled_from(INTERVALS))
def test_sound_moves_by_the_semitones(root: str, suffix: str, interval: Interval) -> None:
    bass = Spelling.parse(root).up(Interval(4, 7)).plain
    chord = parse_chord(f"{root}{suffix}/{bass}")
    moved = transpose_chord(chord, interval)
    assert set(moved.by_pc) == {(pc + interval.semitones) % 12 for pc in chord.by_pc}
    assert moved.bass is not None
    assert moved.bass.pc == (bass.pc + interval.semitones) % 12
    assert [tone.degree for tone in moved.tones] == [tone.degree for tone in chord.tones]


@given(st.sampled_from(ROOTS), st.sampled_from(SUFFIXES))
def test_twelve_semitones_are_the_same_chord(root: str, suffix: str) -> None:
    chord = parse_chord(root + suffix)
    assert transpose_chord(chord, Interval(7, 12), real_signs=False) == chord
    moved = chord
    for _ in range(12):
        moved = transpose_chord(moved, Interval(1, 1))
    assert set(moved.by_pc) == set(chord.by_pc)


@pytest.mark.parametrize("root", ROOTS)
@pytest.mark.parametrize("name", ["P4", "P5", "M2", "m3", "M6"])
def test_roots_as_music21_spells_them(root: str, name: str) -> None:
    theirs = music21.interval.Interval(name)
    interval = Interval(theirs.generic.staffDistance, theirs.semitones)
    pitch = theirs.transposePitch(music21.pitch.Pitch(root.replace("b", "-")))
    expected = Spelling.parse(pitch.name.replace("-", "b")).plain
    assert transpose_chord(parse_chord(root), interval).root == expected


def test_real_signs_stay_real() -> None:
    half_step = Interval(1, 1)
    assert str(transpose_chord(parse_chord("B♭7"), half_step)) == "C♭7"
    assert str(transpose_chord(parse_chord("C7♭9"), half_step)) == "D♭7♭9"
    assert str(transpose_chord(parse_chord("C7b9"), half_step)) == "Db7b9"
    assert str(transpose_chord(parse_chord("C7"), half_step, real_signs=True)) == "D♭7"
    assert str(transpose_chord(parse_chord("B♭7"), half_step, real_signs=False)) == "Cb7"


def test_between_keys() -> None:
    interval = Key.parse("Bb").interval_to(Key.parse("E"))
    line = "Bb Gm7 Cm7 F7 Eb Ebm/Gb"
    moved = [str(transpose_chord(parse_chord(symbol), interval)) for symbol in line.split()]
    assert moved == "E C#m7 F#m7 B7 A Am/C".split()
