"""Names and intervals against music21."""

from __future__ import annotations

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

from accomp.harmony import Interval, Pitch, Spelling
from accomp.harmony.degree import Degree

NAMES = [step + sign for step in "ABCDEFG" for sign in ("", "b", "#", "bb", "##")]


@pytest.mark.parametrize("name", NAMES)
def test_pitch_class_and_octave(name: str) -> None:
    theirs = music21.pitch.Pitch(name.replace("b", "-") + "4")
    ours = Pitch.parse(name + "4")
    assert ours.midi == theirs.midi
    assert ours.spelling.pc == theirs.pitchClass
    assert str(ours) == name + "4"
    assert Pitch.spelled(ours.midi, ours.spelling) == ours


def test_middle_c_and_the_octave_of_the_letter() -> None:
    assert Pitch.parse("C4").midi == 60
    assert Pitch.parse("Cb4").midi == Pitch.parse("B3").midi == 59
    assert Pitch.parse("B#3").midi == 60
    assert Pitch.parse("C-1").midi == 0


@pytest.mark.parametrize("interval", ["m2", "M2", "m3", "M3", "P4", "A4", "d5", "P5", "m6", "M6"])
@pytest.mark.parametrize("name", [name for name in NAMES if len(name) < 3])
def test_interval_up_and_down(name: str, interval: str) -> None:
    theirs = music21.interval.Interval(interval)
    moved = theirs.transposePitch(music21.pitch.Pitch(name.replace("b", "-")))
    ours = Interval(theirs.generic.staffDistance, theirs.semitones)
    up = Spelling.parse(name).up(ours)
    if abs(moved.alter) <= 2:
        assert str(up) == moved.name.replace("-", "b")
        assert up.up(-ours) == Spelling.parse(name)
    assert up.pc == moved.pitchClass


@given(st.sampled_from(NAMES), st.sampled_from(NAMES))
def test_to_is_the_interval_up(start: str, end: str) -> None:
    first, last = Spelling.parse(start), Spelling.parse(end)
    interval = first.to(last)
    assert 0 <= interval.steps <= 6
    assert 0 <= interval.semitones <= 11
    assert first.up(interval).pc == last.pc


@pytest.mark.parametrize("name", NAMES)
def test_plain_sounds_the_same(name: str) -> None:
    plain = Spelling.parse(name).plain
    assert abs(plain.alter) < 2
    assert plain.pc == Spelling.parse(name).pc
    assert plain.plain == plain


def test_real_signs_are_read() -> None:
    assert Spelling.parse("B♭") == Spelling("B", -1)
    assert Spelling.parse("F♯") == Spelling("F", 1)


@pytest.mark.parametrize("text", ["", "H", "b", "Cbbb", "c", "C b", "C#b"])
def test_no_note_name(text: str) -> None:
    with pytest.raises(ValueError, match="not a note name"):
        Spelling.parse(text)


@pytest.mark.parametrize("text", ["C", "4", "", "C10x"])
def test_no_pitch(text: str) -> None:
    with pytest.raises(ValueError, match="not a"):
        Pitch.parse(text)


def test_pitch_must_agree_with_its_name() -> None:
    with pytest.raises(ValueError, match="cannot spell"):
        Pitch.spelled(60, Spelling("D"))


# Degrees and their semitones: the major scale and its signs, as in any theory book.
@pytest.mark.parametrize(
    ("text", "semitones"),
    list(
        zip(
            "1 b3 #4 bb7 b7 7 b9 9 #9 11 #11 b13 13".split(),
            (0, 3, 6, 9, 10, 11, 13, 14, 15, 17, 18, 20, 21),
            strict=True,
        ),
    ),
)
def test_degree(text: str, semitones: int) -> None:
    degree = Degree.parse(text)
    assert degree.semitones == semitones
    assert str(degree) == text
    assert degree.interval == Interval(degree.number - 1, semitones)


@pytest.mark.parametrize("text", ["", "b", "0", "x", "3b", "###5", "²"])
def test_no_degree(text: str) -> None:
    with pytest.raises(ValueError, match="not a degree"):
        Degree.parse(text)
