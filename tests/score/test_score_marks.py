"""What stands beside the notes: marks of a performance, and of a score's parts, as whole values."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hand_made import BANJO, GUITAR, arrangement, shape
from played import FLAT, arranged, pattern, performed, style, tune

from accomp.harmony import Key, Pitch, parse_chord
from accomp.neck import Plan
from accomp.score.arrange import arrange
from accomp.score.arrangement import Arrangement
from accomp.score.notate import notate
from accomp.score.notate_layout import ScoreLayout, reading_interval, reading_key
from accomp.score.notate_noteheads import (
    bass_sounds,
    slashed,
    strum_sounds,
    with_accidentals,
)
from accomp.score.performance import KeyMark, MeterMark, TempoMark, TextMark
from accomp.score.planning import tune_chords
from accomp.score.readers import PLAYER_PARTS, READERS
from accomp.score.written import Clef, Event, Jump, NoteValue, WrittenNote
from accomp.time import Meter

MIXED = """
title = "Test"
key = "C"
meter = "4/4"
tempo = 120
form = ["A", "B", "A"]
[sections]
A = "| C | N.C. |"
[sections.B]
key = "F"
meter = "3/4"
bars = "| F | C7 / F |"
"""


def mixed(choruses: int = 1) -> Arrangement:
    from accomp.tune import parse_tune

    written = parse_tune(MIXED, "mixed.toml")
    chords = tune_chords(written)
    path = tuple(shape(BANJO, str(chord), "0 2 3 3") for chord in chords.chords)
    four = style(FLAT)
    one = pattern(Fraction(3, 4), ("0", "ring", "down", "all"))
    three = style(one, "3/4", title="Three")
    styles = {(None, Meter.parse("4/4")): four, (None, Meter.parse("3/4")): three}
    return arrange(written, chords, [Plan("p", path, 0.0)] * choruses, styles, BANJO)


def test_marks_stand_where_something_changes_and_nowhere_else() -> None:
    # Bars of 2, 2, 1.5, 1.5, 2 and 2 seconds, after two bars of count-in.
    played = performed(mixed(2), 2)
    assert played.meters == (
        MeterMark(0.0, 4, 4), MeterMark(8.0, 3, 4), MeterMark(11.0, 4, 4),
        MeterMark(19.0, 3, 4), MeterMark(22.0, 4, 4),
    )  # fmt: skip
    assert played.keys == (
        KeyMark(0.0, "C"), KeyMark(8.0, "F"), KeyMark(11.0, "C"), KeyMark(19.0, "F"),
        KeyMark(22.0, "C"),
    )  # fmt: skip
    assert played.tempos == (TempoMark(0.0, 0.5),)
    starts = [(4.0, 1), (8.0, 1), (11.0, 1), (15.0, 2), (19.0, 2), (22.0, 2)]
    assert played.markers == (
        TextMark(0.0, "Count-in"),
        *(
            TextMark(at, f"Chorus {n}: {name}")
            for (at, n), name in zip(starts, "ABA" * 2, strict=True)
        ),
    )
    chords = [
        (4.0, "C"),
        (6.0, "N.C."),
        (8.0, "F"),
        (9.5, "C7"),
        (10.5, "F"),
        (11.0, "C"),
        (13.0, "N.C."),
    ]
    assert [(m.start_s, m.text) for m in played.chords[:7]] == chords
    assert played.end_s == 26.0
    assert repr(played) == "<Performance of 'Test': 2 tracks, 26.0 s>"
    assert performed(mixed(), 0).markers[0] == TextMark(0.0, "Chorus 1: A")


def test_sections_that_are_no_chorus_are_marked_by_their_names() -> None:
    made = arranged(
        tune('| C | C |\n"""\nOut = """\n| C |', head='intro = "last 2"\ncoda = "Out"'),
        style(FLAT),
        "0 0 2 3",
    )
    found = [mark.text for mark in performed(made, 1).markers]
    assert found == ["Count-in", "Intro", "Chorus 1: A", "Out"]


def test_new_meter_key_style_and_slowing_are_said_once_on_the_first_part() -> None:
    made = replace(mixed(), ritard=3)
    score = notate(made, ScoreLayout(fold=False))
    first, *others = score.parts
    assert [m.new_meter for m in first.measures] == [True, False, True, False, True, False]
    assert [m.new_key for m in first.measures] == [True, False, True, False, True, False]
    assert [m.words for m in first.measures] == ["", "", "Three", "rit.", "Test", ""]
    assert [m.rehearsal for m in first.measures] == ["A", "", "B", "", "A", ""]
    assert [m.barline for m in first.measures] == [
        "regular", "double", "regular", "double", "regular", "final",
    ]  # fmt: skip
    assert [str(mark.chord) for m in first.measures for mark in m.chords] == [
        "C", "None", "F", "C7", "F", "C", "None",
    ]  # fmt: skip
    for part in others:
        assert [(m.words, m.rehearsal, m.chords) for m in part.measures] == [("", "", ())] * 6
        assert [m.new_key for m in part.measures] == [m.new_key for m in first.measures]
    later = notate(replace(made, ritard=2), ScoreLayout(fold=False)).parts[0]
    assert [m.words for m in later.measures] == [
        "", "", "Three", "", "Test, rit.", "",
    ]  # fmt: skip
    assert (score.title, score.tempo, score.beat, score.swing) == ("Test", 120, Fraction(1, 4), 1.0)
    assert (score.feel, score.bracketed) == ("Test", 2)
    assert repr(score) == "<Score of 'Test': 6 measures, Tenor banjo, TAB>"


# What each layout has: name, kind, clef, program, whether silent; with a bass that plays.
PARTS = {
    ("both", "concert"): [
        ("Tenor banjo", "notation", "G2-1", 106, False), ("TAB", "tab", "TAB5", 106, True),
    ],
    ("notation", "Bb"): [("Part in B♭", "notation", "G2", 106, False)],
    ("notation", "Eb"): [("Part in E♭", "notation", "G2", 106, False)],
    ("slash", "bass"): [("Part in bass clef", "slash", "F4", 106, False)],
    ("tab", "concert"): [("Tenor banjo", "tab", "TAB5", 106, False)],
    ("none", "concert"): [],
}  # fmt: skip


@pytest.mark.parametrize(("player", "reader"), PARTS)
def test_the_parts_of_a_layout_whole(player: str, reader: str) -> None:
    made = arrangement([("F", "0 2 3 3")], bass=[("0", "1", "F2")])
    score = notate(made, ScoreLayout(player=player, reader=reader))
    found = [
        (p.name, p.kind, f"{p.clef.sign}{p.clef.line}{p.clef.octave or ''}", p.program, p.silent)
        for p in score.parts
    ]
    assert found == [*PARTS[player, reader], ("Bass", "bass", "F4-1", 33, False)]
    assert score.bracketed == (2 if player == "both" else 0)
    if player != "none":
        alone = notate(made, ScoreLayout(player=player, bass=False))
        assert len(alone.parts) == len(found) - 1
        assert score.parts[0].instrument == BANJO
    assert score.parts[-1].instrument is None
    with pytest.raises(
        ValueError, match=r"^a score of 'Harbour Street Parade' would have no part$"
    ):
        notate(made, ScoreLayout(player="none", bass=False))


def test_a_plain_clef_says_the_octave_by_transposition_once() -> None:
    made = arrangement([("F", "0 2 3 3")] * 2, keys=["F", "F"])
    for layout, steps in (
        (ScoreLayout(plain_clef=True, fold=False), [(-7, -12), None]),
        (ScoreLayout(fold=False), [None, None]),
        (ScoreLayout(reader="Bb", fold=False), [(-8, -14), None]),
        (ScoreLayout(reader="Eb", fold=False), [(-12, -21), None]),
    ):
        measures = notate(made, layout).parts[0].measures
        found = [m.transpose and (m.transpose.steps, m.transpose.semitones) for m in measures]
        assert found == steps
    low = arrangement([("C", "x 3 2 0 1 0")], instrument=GUITAR)
    first = notate(low, ScoreLayout(plain_clef=True)).parts[0].measures[0]
    assert str(first.events[0].notes[0].pitch) == "C4"  # C3, read an octave higher
    assert str(first.chords[0].chord) == "C"


def test_readers_have_six_signs_at_most() -> None:
    for name in "C Db D Eb E F F# Gb G Ab A Bb B C# Cb".split():
        for reader, semitones in (("Bb", 2), ("Eb", 9), ("concert", 0)):
            key = Key.parse(name)
            interval = reading_interval(reader, key)
            moved = reading_key(key, interval)
            assert interval.semitones == semitones
            assert (moved.tonic.pc - key.tonic.pc) % 12 == semitones
            if reader != "concert":
                usual = {"Bb": 2, "Eb": 3}[reader]
                fifths = key.fifths + usual
                while abs(fifths) > 6:
                    fifths += 12 if fifths < 0 else -12
                assert moved.fifths == fifths


def test_words_of_the_trade_in_their_order() -> None:
    assert PLAYER_PARTS == ("both", "notation", "tab", "slash")
    assert READERS == ("concert", "Bb", "Eb", "bass")
    assert [jump.value for jump in Jump if jump.to_segno] == ["D.S. al Fine", "D.S. al Coda"]


def test_how_long_a_note_value_lasts() -> None:
    quarter = Fraction(1, 4)
    assert [NoteValue(quarter, dots).duration for dots in range(3)] == [
        quarter, Fraction(3, 8), Fraction(7, 16),
    ]  # fmt: skip
    assert NoteValue(quarter, 0, (3, 2)).duration == Fraction(1, 6)
    assert NoteValue(quarter, 1, (5, 4)).duration == Fraction(3, 10)


def test_an_arrangement_in_one_line() -> None:
    made = arrangement([("F", "0 2 3 3")])
    assert repr(made) == "<Arrangement of 'Harbour Street Parade': F, 168 beats a minute, 1 bar>"
    six = style(pattern(Fraction(3, 4), ("0", "ring", "down", "all")), "6/8")
    assert made.tempo_of(six) == pytest.approx(168 * 2 / 3)  # a quarter stays a quarter
    assert parse_chord("F") == made.bars[0].sounding()[0].chord


# Noteheads


def heads(symbol: str, frets: str, key: str = "F", which: str = "all", sound: str = "ring") -> list:
    made = arrangement(
        [(symbol, frets)], [("0", "1", "down", "accent", sound, which)], key=key
    )  # fmt: skip
    return strum_sounds(made.bars[0], BANJO)


def test_noteheads_are_named_by_chord_bass_and_key_in_this_order() -> None:
    def named(symbol: str, frets: str, key: str = "F") -> list[str]:
        (one,) = heads(symbol, frets, key)
        return [f"{note.pitch} {note.string}:{note.fret}" for note in one.notes]

    assert named("F", "0 2 3 3") == ["C3 4:0", "A3 3:2", "F4 2:3", "C5 1:3"]
    assert named("F/F#", "6 2 3 3") == ["F#3 4:6", "A3 3:2", "F4 2:3", "C5 1:3"]
    assert named("F/Gb", "6 2 3 3") == ["Gb3 4:6", "A3 3:2", "F4 2:3", "C5 1:3"]
    assert named("F", "6 2 3 3", "F")[0] == "F#3 4:6"  # a stranger has the key's name
    assert named("F", "6 2 3 3", "Db")[0] == "Gb3 4:6"
    assert named("C5", "7 0 x x") == ["G3 4:7", "G3 3:0"]  # of one pitch the farther string first
    assert named("C", "x 5 2 3") == ["C4 3:5", "E4 2:2", "C5 1:3"]


def test_what_a_stroke_is_marked_with() -> None:
    for sound, marks, short in (
        ("ring", {"accent"}, False), ("choked", {"accent", "choked"}, True),
        ("heel", {"accent", "choked"}, True), ("dead", {"accent", "dead"}, True),
        ("roll", {"accent", "roll"}, False),
    ):  # fmt: skip
        (one,) = heads("F", "0 2 3 3", sound=sound)
        assert (set(one.marks), one.short, one.tremolo) == (marks, short, None)
    (one,) = heads("F", "0 2 3 3", sound="tremolo")
    assert one.tremolo == Fraction(1, 32)
    assert heads("F", "0 2 3 3", sound="rest") == []


def test_a_bass_note_is_named_by_the_chord_that_sounds_there() -> None:
    made = arrangement(
        [[("Db", "1 1 3 4", "1/2"), ("A7", "4 2 2 0", "1/2")]], (), key="F",
        bass=[("0", "1/4", "C#3"), ("1/4", "1/2", "B2"), ("1/2", "1", "C#3")],
    )  # fmt: skip
    found = [(str(one.notes[0].pitch), set(one.marks)) for one in bass_sounds(made.bars[0])]
    assert found == [("Db3", set()), ("B2", set()), ("C#3", set())]
    silent = arrangement([("N.C.", "")], (), key="Db", bass=[("0", "1", "C#3")])
    assert str(bass_sounds(silent.bars[0])[0].notes[0].pitch) == "Db3"
    slash = arrangement([("A/C#", "4 2 2 0")], (), key="Db", bass=[("0", "1", "Db3")])
    assert str(bass_sounds(slash.bars[0])[0].notes[0].pitch) == "C#3"


def test_slashes_and_signs() -> None:
    events = (Event(Fraction(0), NoteValue(Fraction(1)), (WrittenNote(Pitch.parse("C5")),)),)
    rest = (Event(Fraction(0), NoteValue(Fraction(1))),)
    for clef, key, pitch in (
        (Clef("G", 2), "C", "B4"), (Clef("G", 2, -1), "C", "B3"), (Clef("G", 2), "F", "Bb4"),
        (Clef("F", 4), "C", "D3"), (Clef("F", 4), "Db", "Db3"),
    ):  # fmt: skip
        (one,) = slashed(events, clef, Key.parse(key))
        assert [str(note.pitch) for note in one.notes] == [pitch]
        assert slashed(rest, clef, Key.parse(key)) == rest

    def signs(names: str, key: str = "F") -> list[int | None]:
        row = [
            Event(
                Fraction(0),
                NoteValue(Fraction(1)),
                (WrittenNote(Pitch.parse(name.strip("<"))),),
                tied_from=name.startswith("<"),
            )
            for name in names.split()
        ]
        return [event.notes[0].accidental for event in with_accidentals(Key.parse(key), row)]

    assert signs("F4 Bb4 B4 B4 Bb4 Bb4") == [None, None, 0, None, -1, None]
    assert signs("B4 B5 Bb5 B4") == [0, 0, -1, None]  # each octave for itself
    assert signs("F#4 <F#4 F4 F4") == [1, None, 0, None]
    assert signs("<F#4 F#4") == [None, 1]  # a note tied over the bar line needs none, the next does
    assert signs("F#4 G##4 C4 C#4", "G") == [None, 2, None, 1]
