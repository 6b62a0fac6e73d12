"""Parts for other readers: written differently, sounding the same."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hand_made import BANJO, FOUR, GUITAR, UKULELE, arrangement

from accomp.harmony import ALL_MAJOR, ALL_MINOR, Key, Pitch
from accomp.score.arrangement import BandStroke
from accomp.score.notate import notate
from accomp.score.notate_layout import ScoreLayout
from accomp.score.readers import READERS
from accomp.time import Span

BARS = [("F", "0 2 3 3"), [("C7", "0 0 2 1", "1/2"), ("F/C", "5 5 7 8", "1/2")], ("Bb", "5 7 8 8")]


def sounding(part):
    """MIDI numbers with transposition applied, by measure and moment."""
    found, by = [], 0
    for measure in part.measures:
        if measure.transpose is not None:
            by = measure.transpose.semitones
        for event in measure.events:
            found.append(
                (measure.number, event.start, tuple(n.pitch.midi + by for n in event.notes))
            )
    return found


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("plain", [False, True])
@pytest.mark.parametrize(
    ("instrument", "frets"),
    [(BANJO, "0 0 2 3"), (UKULELE, "0 0 0 3"), (GUITAR, "x 3 2 0 1 0")],
    ids=lambda value: getattr(value, "name", ""),
)
def test_every_reader_sounds_the_concert_pitches(reader, plain, instrument, frets):
    arranged = arrangement([("C", frets)], instrument=instrument, key="C")
    concert = notate(arranged, ScoreLayout(player="notation")).parts[0]
    part = notate(arranged, ScoreLayout("notation", reader=reader, plain_clef=plain)).parts[0]
    assert sounding(part) == sounding(concert)


# Source: any table of transposing instruments. A B flat instrument reads a major second above the
# sound, an E flat one a major sixth.
@pytest.mark.parametrize(
    ("reader", "key", "symbols", "fifths"),
    [
        ("concert", "F", ["F", "C7", "F/C", "Bb"], -1),
        ("Bb", "F", ["G", "D7", "G/D", "C"], 1),
        ("Eb", "F", ["D", "A7", "D/A", "G"], 2),
        ("bass", "F", ["F", "C7", "F/C", "Bb"], -1),
    ],
)
def test_chords_and_key_are_the_readers(reader, key, symbols, fifths):
    part = notate(arrangement(BARS, key=key), ScoreLayout("slash", reader=reader)).parts[0]
    marks = [str(mark.chord) for measure in part.measures for mark in measure.chords]
    assert marks == symbols
    assert part.measures[0].key.fifths == fifths


@pytest.mark.parametrize("reader", ["Bb", "Eb"])
@pytest.mark.parametrize("name", [*ALL_MAJOR, *ALL_MINOR])
def test_no_reader_gets_more_than_six_signs(reader, name):
    arranged = arrangement([("F", "0 2 3 3")], key=name)
    part = notate(arranged, ScoreLayout("notation", reader=reader)).parts[0]
    measure = part.measures[0]
    assert abs(measure.key.fifths) <= 6
    shift = {"Bb": 2, "Eb": 9}[reader]
    assert (measure.key.tonic.pc - Key.parse(name).tonic.pc) % 12 == shift
    assert measure.transpose.semitones == -shift - 12  # a banjo sounds an octave lower still


def test_a_key_change_may_need_another_name_for_the_same_distance():
    arranged = arrangement([("F", "0 2 3 3")] * 2, keys=["E", "F#"])
    measures = notate(arranged, ScoreLayout("notation", reader="Bb")).parts[0].measures
    assert [str(m.key) for m in measures] == ["F#", "Ab"]
    assert [m.transpose.steps for m in measures] == [-8, -9]
    assert [m.transpose.semitones for m in measures] == [-14, -14]


@pytest.mark.parametrize(
    ("layout", "kinds", "bracketed"),
    [
        (ScoreLayout(), ["notation", "tab", "bass"], 2),
        (ScoreLayout("both", bass=False), ["notation", "tab"], 2),
        (ScoreLayout("notation"), ["notation", "bass"], 0),
        (ScoreLayout("tab", bass=False), ["tab"], 0),
        (ScoreLayout("slash", bass=False), ["slash"], 0),
        (ScoreLayout("none"), ["bass"], 0),
    ],
)
def test_the_parts_asked_for(layout, kinds, bracketed):
    score = notate(arrangement(BARS, bass=[("0", "1", "F2")]), layout)
    assert [part.kind for part in score.parts] == kinds
    assert score.bracketed == bracketed
    assert all(bool(part.measures[0].chords) == (i == 0) for i, part in enumerate(score.parts))
    assert [part.silent for part in score.parts] == [
        kind == "tab" and "notation" in kinds for kind in kinds
    ]


def test_a_score_without_parts_is_refused():
    with pytest.raises(ValueError, match="no part"):
        notate(arrangement(BARS), ScoreLayout("none"))


@pytest.mark.parametrize(
    ("layout", "key", "pitch"),
    [
        (ScoreLayout("slash"), "F", "Bb3"),
        (ScoreLayout("slash"), "G", "B3"),
        (ScoreLayout("slash", plain_clef=True), "F", "Bb4"),
        (ScoreLayout("slash", reader="bass"), "F", "D3"),
        (ScoreLayout("slash", reader="bass"), "Ab", "Db3"),
        (ScoreLayout("slash", reader="Bb"), "F", "B4"),
    ],
)
def test_slashes_stand_on_the_middle_line_as_the_signature_has_it(layout, key, pitch):
    part = notate(arrangement(BARS, key=key), layout).parts[0]
    notes = {n for m in part.measures for e in m.events for n in e.notes}
    assert {str(note.pitch) for note in notes} == {pitch}
    assert {note.accidental for note in notes} == {None}
    starts = [e.start for m in part.measures for e in m.events]
    assert starts == [Fraction(n, 4) for n in range(4)] * 3


def test_what_sounds_over_a_bar_line_is_tied():
    arranged = arrangement(BARS, FOUR, bass=[("0", "3/4", "F2")])
    bars = list(arranged.bars)
    late = BandStroke(Span(Fraction(3, 4), Fraction(5, 4)), Pitch.parse("C2").midi, "plain")
    bars[0] = replace(bars[0], bass=(*bars[0].bass, late))
    bars[1] = replace(bars[1], bass=())
    part = notate(replace(arranged, bars=tuple(bars)), ScoreLayout("none", fold=False)).parts[0]
    last = part.measures[0].events[-1]
    first = part.measures[1].events[0]
    assert last.tied_to
    assert first.tied_from
    assert not first.tied_to
    assert (last.value.duration, first.value.duration) == (Fraction(1, 4), Fraction(1, 4))
    assert [str(n.pitch) for n in first.notes] == ["C2"]


def test_a_bass_plays_one_note_at_a_time():
    arranged = arrangement([("F", "0 2 3 3")], bass=[("0", "1", "F2"), ("1/2", "1", "C3")])
    (part,) = notate(arranged, ScoreLayout(player="none", bass=True)).parts
    notes = [(event.start, event.value.duration) for event in part.measures[0].events]
    assert notes == [(0, Fraction(1, 2)), (Fraction(1, 2), Fraction(1, 2))]


def test_what_the_next_stroke_cuts_at_the_bar_line_is_not_tied():
    arranged = arrangement(BARS, FOUR, bass=[("0", "3/2", "F2")])
    part = notate(arranged, ScoreLayout("none", fold=False)).parts[0]
    events = [event for measure in part.measures for event in measure.events]
    assert len(events) == 3
    assert not any(event.tied_to or event.tied_from for event in events)


def test_a_ritardando_is_said_where_it_begins():
    arranged = replace(arrangement(BARS), ritard=2, slow_to=0.6)
    assert [m.words for m in notate(arranged).parts[0].measures] == ["", "rit.", ""]
