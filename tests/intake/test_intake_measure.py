"""What one MusicXML measure holds: its chords, its melody, its length, and what is left out."""

from __future__ import annotations

from fractions import Fraction

import pytest
from lxml import etree

from accomp.harmony import Interval, Pitch, Spelling
from accomp.intake.musicxml_measure import MeasureContent, MeasureReader
from accomp.intake.numbers import WrongNumberError
from accomp.intake.written import SourceNote, WrittenChord

ATTRIBUTES = "<attributes><divisions>2</divisions>{}</attributes>"


def reader() -> MeasureReader:
    return MeasureReader(lambda text: None, lambda text: None)


def content(xml: str, by: MeasureReader | None = None) -> MeasureContent:
    xml = f"<measure>{ATTRIBUTES.format('')}{xml}</measure>"
    return (by or reader()).read(etree.fromstring(xml))


def note(name: str = "C4", length: int | str = 2, more: str = "", before: str = "") -> str:
    """A note of so many eighths."""
    step, alter, octave = name[0], name[1:-1], name[-1]
    pitch = f"<step>{step}</step>{f'<alter>{alter}</alter>' if alter else ''}"
    return (
        f"<note>{before}<pitch>{pitch}<octave>{octave}</octave></pitch>"
        f"<duration>{length}</duration>{more}</note>"
    )


def told(found: MeasureContent) -> str:
    """The melody as "onset:length:midi" in eighths, "~" where it is tied."""
    return " ".join(
        f"{8 * one.onset}:{8 * one.length}:{one.pitch.midi}{'~' * one.tied}" for one in found.notes
    )


CHORD = "<chord/>"
LOWER = "the lower notes of chords in the melody"
OTHER = "other voices than the melody's"
CONTENT = [
    (note() + note("E4", 1), "0:2:60 2:1:64", 3, []),
    (note("C14"), "0:2:61", 2, []),
    (note("D-24") + note("D24"), "0:2:60 2:2:64", 4, []),
    # the highest note of a chord, and a chord note of another length
    (note("C4") + note("E4", before=CHORD), "0:2:64", 2, [LOWER]),
    (note("E4") + note("C4", before=CHORD), "0:2:64", 2, [LOWER]),
    (note("C4") + note("G4", before=CHORD) + note("E4", before=CHORD) + note("A4"),
     "0:2:67 2:2:69", 4, [LOWER, LOWER]),
    (note("C4") + note("C4", before=CHORD), "0:2:60", 2, [LOWER]),
    # ties go on where they stop
    (note("C4", more='<tie type="start"/>') + note("C4", more='<tie type="stop"/>'),
     "0:2:60 2:2:60~", 4, []),
    (note("C4", more='<tie type="stop"/><tie type="start"/>'), "0:2:60~", 2, []),
    # what is no melody
    (note(before="<grace/>") + note(), "0:2:60", 2, ["grace notes"]),
    (note(before="<cue/>") + note(), "2:2:60", 4, ["cue notes"]),
    (note(more="<lyric/>"), "0:2:60", 2, ["lyrics"]),
    (note(more="<staff>2</staff>") + note(), "2:2:60", 4, ["the second staff"]),
    (note(more="<staff> 1 </staff>"), "0:2:60", 2, []),
    (note(more="<voice>2</voice>") + note(more="<voice>1</voice>"), "0:2:60", 4, [OTHER]),
    (note(more="<voice> 1 </voice>") + note(), "0:2:60 2:2:60", 4, []),  # voice 1 unless it is said
    ("<note><rest/><duration>2</duration></note>" + note(), "2:2:60", 4, []),
    ("<note><unpitched/><duration>2</duration></note>" + note(), "2:2:60", 4,
     ["notes without pitch"]),
    (note(length=0) + note(), "0:2:60", 2, []),
    # the cursor
    (note() + "<backup><duration>2</duration></backup>" + note("E4"), "0:2:60 0:2:64", 2, []),
    (note() + "<backup><duration>9</duration></backup>" + note("E4"), "0:2:60 0:2:64", 2, []),
    (note(length=4) + "<backup><duration>3</duration></backup>" + note("E4"),
     "0:4:60 1:2:64", 4, []),
    ("<forward><duration>3</duration></forward>" + note(), "3:2:60", 5, []),
    (note() + "<attributes><divisions>4</divisions></attributes>" + note(length=4),
     "0:2:60 2:2:60", 4, []),
    (note() + "<attributes><divisions> </divisions></attributes>" + note(), "0:2:60 2:2:60", 4,
     []),
    ("", "", 0, []),
]  # fmt: skip


@pytest.mark.parametrize(("xml", "melody", "length", "left_out"), CONTENT)
def test_what_a_measure_holds(xml: str, melody: str, length: int, left_out: list[str]) -> None:
    found = content(xml)
    assert (told(found), 8 * found.length, found.left_out) == (melody, length, left_out)


def test_the_melodys_voice_is_the_first_one_of_the_part() -> None:
    by = reader()
    content(note(more="<voice>2</voice>"), by)
    assert told(content(note(more="<voice>1</voice>"), by)) == ""
    assert told(content(note(more="<voice>2</voice>"), by)) == "0:2:60"


def chord(root: str = "C", more: str = "") -> str:
    return f"<harmony><root><root-step>{root}</root-step></root><kind>major</kind>{more}</harmony>"


OFFSET = "<offset>{}</offset>"
NC = "<direction><direction-type><words>N.C.</words></direction-type>{}</direction>"


@pytest.mark.parametrize(
    ("xml", "chords"),
    [
        (chord() + note() + chord("F"), "C@0 F@2"),
        (chord("C", OFFSET.format(3)) + note(length=8), "C@3"),
        (note() + chord("F", OFFSET.format(-1)), "F@1"),
        (note() + chord("F", OFFSET.format(-9)), "F@0"),  # never before the bar
        (note() + NC.format("") + chord("F", OFFSET.format(2)), "None@2 F@4"),
        (note() + NC.format(OFFSET.format(1)), "None@3"),
        (note() + NC.format(OFFSET.format(-9)), "None@0"),
        (chord() + chord("F"), "C@0"),
    ],
)
def test_where_chords_stand(xml: str, chords: str) -> None:
    found = content(xml).chords
    assert " ".join(f"{one.symbol}@{8 * one.onset}" for one in found) == chords


def transposed(inside: str) -> MeasureReader:
    by = reader()
    by.attributes(etree.fromstring(ATTRIBUTES.format(f"<transpose>{inside}</transpose>")))
    return by


# Letter names of intervals by their semitones: major, minor and perfect ones, and the tritone a
# fourth; any theory book.
STEPS = {0: 0, 1: 1, 2: 1, 3: 2, 4: 2, 5: 3, 6: 3, 7: 4, 8: 5, 9: 5, 10: 6, 11: 6}


@pytest.mark.parametrize("semitones", range(-24, 25))
def test_a_transposition_in_semitones_only_is_by_the_usual_interval(semitones: int) -> None:
    octaves, rest = divmod(semitones, 12)
    by = transposed(f"<chromatic>{semitones}</chromatic>")
    assert by.transposition == Interval(7 * octaves + STEPS[rest], semitones)


def test_notes_and_chords_of_a_transposing_part_sound() -> None:
    # a clarinet in B flat: written D sounds C
    by = transposed("<diatonic>-1</diatonic><chromatic>-2</chromatic>")
    found = content(chord("D") + note("D4"), by)
    assert found.notes == [SourceNote(Fraction(0), Fraction(1, 4), Pitch(Spelling("C"), 4))]
    assert found.chords == [WrittenChord(Fraction(0), "C")]
    silent = content(chord("D").replace("major", "none") + note("D4"), by)
    assert silent.chords == [WrittenChord(Fraction(0), None)]
    # an octave lower: notes only
    by = transposed("<chromatic>0</chromatic><octave-change>-1</octave-change>")
    found = content(chord("D") + note("D4"), by)
    assert found.notes[0].pitch == Pitch(Spelling("D"), 3)
    assert found.chords == [WrittenChord(Fraction(0), "D")]


@pytest.mark.parametrize(
    ("octaves", "name", "midi"),
    [(-5, "C4", 0), (-5, "B3", None), (0, "G9", 127), (0, "A9", None), (1, "G8", 127)],
)
def test_notes_that_midi_does_not_know_are_rests(octaves: int, name: str, midi: int) -> None:
    by = transposed(f"<octave-change>{octaves}</octave-change>")
    found = content(note(name), by)
    assert [one.pitch.midi for one in found.notes] == ([] if midi is None else [midi])
    assert found.length == Fraction(1, 4)


def test_every_letter_is_a_step_and_nothing_else_is() -> None:
    for step in "ABCDEFG":
        assert len(content(note(f"{step}4")).notes) == 1
    for wrong in ("H4", "c4"):
        assert content(note(wrong)).notes == []


# What a number may be: where it stands, the lowest and highest, and the name it has in a message.
N, W = "a number", "a whole number"
BOUNDS = [
    (note("C4", "{}"), 0, 100_000_000, N, "the duration of <note>"),
    ("<forward><duration>{}</duration></forward>", 0, 100_000_000, N, "the duration of <forward>"),
    ("<attributes><divisions>{}</divisions></attributes>", 1, 1_000_000, N,
     "the divisions of <attributes>"),
    (note("C4").replace("<octave>4", "<octave>{}"), 0, 9, N, "the octave of <note>"),
    (note("C4").replace("</step>", "</step><alter>{}</alter>"), -2, 2, N, "the alter of <note>"),
    (chord("C", OFFSET.format("{}")), -100_000_000, 100_000_000, N, "the offset of <harmony>"),
    (NC.format(OFFSET.format("{}")), -100_000_000, 100_000_000, N, "the offset of <direction>"),
    (chord("C", "<inversion>{}</inversion>"), 0, 20, W, "the inversion of a chord"),
    (chord().replace("</root-step>", "</root-step><root-alter>{}</root-alter>"), -2, 2, N,
     "the root-alter of a chord"),
    (chord("C", "<bass><bass-step>G</bass-step><bass-alter>{}</bass-alter></bass>"), -2, 2, N,
     "the bass-alter of a chord"),
    (chord("C", "<degree><degree-value>{}</degree-value><degree-alter>0</degree-alter></degree>"),
     1, 19, W, "the degree-value of a chord"),
    (chord("C", "<degree><degree-value>9</degree-value><degree-alter>{}</degree-alter></degree>"),
     -2, 2, N, "the degree-alter of a chord"),
    *((f"<attributes><transpose><{name}>{{}}</{name}></transpose></attributes>", -most, most, N,
       f"the {name} of <transpose>")
      for name, most in (("chromatic", 99), ("diatonic", 99), ("octave-change", 9))),
]  # fmt: skip


@pytest.mark.parametrize(("xml", "least", "most", "kind", "what"), BOUNDS)
def test_numbers_have_bounds(xml: str, least: int, most: int, kind: str, what: str) -> None:
    fine = "<attributes><divisions>1000000</divisions></attributes>\n"  # so that long ones fit
    for good in (least, most):
        content(fine + xml.format(good))
    for wrong in (least - 1, most + 1):
        with pytest.raises(WrongNumberError) as caught:
            content(fine + xml.format(wrong))
        expected = f"{kind} from {least:,} to {most:,}"
        assert str(caught.value) == f"{what} must be {expected}, and this is '{wrong}'."
        assert (caught.value.found, caught.value.expected) == (f"'{wrong}'", expected)
        assert caught.value.line == 2


def test_a_bar_of_a_hundred_whole_notes_is_the_longest() -> None:
    assert content(note(length=800)).length == 100
    with pytest.raises(WrongNumberError, match=r"^a bar must be at most 100 whole notes long,"):
        content(note(length=801))
