"""From strokes to measures. The oracles here are the arrangement itself and music21."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction

import pytest
from drawn import examples
from hand_made import BANJO, FOUR, GUITAR, UKULELE, arrangement
from hypothesis import given, settings
from hypothesis import strategies as st

from accomp.score.notate import notate
from accomp.time import METERS

BARS = [
    ("F", "0 2 3 3"),
    [("F", "0 2 3 3", "1/2"), ("C7", "0 0 2 1", "1/2")],
    ("Bb", "5 7 8 8"),
    ("N.C.", ""),
    ("Bdim7", "5 7 6 8"),
    [("Gm7", "5 7 5 8", "1/2"), ("C7", "4 3 5 3", "1/2")],
]
SYNCOPATED = [
    ("0", "1/8", "down", "plain", "ring", "low2"),
    ("1/8", "1/4", "up", "plain", "dead", "all"),
    ("1/4", "3/8", "down", "accent", "choked", "all"),
    ("3/8", "5/8", "up", "plain", "ring", "all"),
    ("5/8", "3/4", "up", "plain", "ring", "high2"),
    ("3/4", "5/6", "down", "plain", "ring", "all"),
    ("5/6", "11/12", "up", "plain", "ring", "all"),
    ("11/12", "1", "down", "plain", "ring", "all"),
]


def part(score, kind):
    return next(part for part in score.parts if part.kind == kind)


def test_every_measure_is_full_and_without_gaps():
    for strokes in (FOUR, SYNCOPATED):
        for part_ in notate(arrangement(BARS, strokes, bass=[("0", "1", "F2")])).parts:
            for measure in part_.measures:
                if measure.events[0].whole_measure:
                    assert len(measure.events) == 1
                    continue
                now = Fraction(0)
                for event in measure.events:
                    assert event.start == now
                    now = event.end
                assert now == measure.length == Fraction(1)


@pytest.mark.parametrize("strokes", [FOUR, SYNCOPATED])
def test_each_stroke_begins_once_where_it_is_played_with_its_own_pitches(strokes):
    arranged = arrangement(BARS, strokes)
    for kind in ("notation", "tab"):
        written = [
            (
                measure.number - 1 + event.start,
                sorted(note.pitch.midi for note in event.notes),
                sorted((note.string, note.fret) for note in event.notes),
            )
            for measure in part(notate(arranged), kind).measures
            for event in measure.events
            if event.notes and not event.tied_from
        ]
        planned = [
            (
                strum.span.start,
                sorted(strum.shape.pitches[i] for i in strum.strings),
                sorted((4 - i, strum.shape.frets[i]) for i in strum.strings),
            )
            for bar in arranged.bars
            for strum in bar.strums
        ]
        assert written == planned


@pytest.mark.parametrize("strokes", [FOUR, SYNCOPATED])
def test_a_ringing_stroke_lasts_as_long_as_it_is_written(strokes):
    arranged = arrangement(BARS, strokes)
    held: list[Fraction] = []
    for measure in part(notate(arranged), "notation").measures:
        for event in measure.events:
            if event.notes and event.tied_from:
                held[-1] += event.value.duration
            elif event.notes:
                held.append(event.value.duration)
    strums = [strum for bar in arranged.bars for strum in bar.strums]
    assert len(held) == len(strums)
    for length, strum in zip(held, strums, strict=True):
        if strum.sound == "ring":
            assert length == strum.span.duration
        else:
            assert length <= strum.span.duration


def test_ties_pair_up():
    events = [
        event
        for measure in part(notate(arrangement(BARS, SYNCOPATED)), "notation").measures
        for event in measure.events
    ]
    assert any(event.tied_to for event in events)
    for event, after in itertools.pairwise(events):
        assert event.tied_to == after.tied_from
        if event.tied_to:
            assert [n.pitch for n in event.notes] == [n.pitch for n in after.notes]
            assert after.direction is None
            assert "accent" not in after.marks


def test_a_choked_stroke_is_never_tied_but_followed_by_silence():
    strokes = [
        ("0", "3/8", "down", "accent", "ring", "all"),
        ("3/8", "1", "up", "plain", "choked", "all"),
    ]
    events = part(notate(arrangement([("F", "5 5 7 8")], strokes)), "notation").measures[0].events
    assert [(str(e.start), str(e.value.duration), bool(e.notes)) for e in events] == [
        ("0", "3/8", True),
        ("3/8", "1/8", True),
        ("1/2", "1/2", False),
    ]
    assert events[1].marks == {"choked"}
    assert events[1].direction == "up"
    # Five 32nds, which no note says, are one as long as its first part.
    strokes = [
        ("0", "3/32", "down", "plain", "ring", "all"),
        ("3/32", "1", "down", "plain", "choked", "all"),
    ]
    events = part(notate(arrangement([("F", "5 5 7 8")], strokes)), "notation").measures[0].events
    struck = [(str(e.start), str(e.value.duration), e.tied_to) for e in events if e.notes]
    assert struck == [("0", "3/32", False), ("3/32", "1/32", False)]


def test_a_triplet_is_a_triplet_of_eighths():
    events = (
        part(notate(arrangement([("F", "0 2 3 3")], SYNCOPATED)), "notation").measures[0].events
    )
    triplet = [event for event in events if event.start >= Fraction(3, 4)]
    assert [event.value.tuplet for event in triplet] == [(3, 2)] * 3
    assert [event.value.length for event in triplet] == [Fraction(1, 8)] * 3
    assert [event.bracket for event in triplet] == ["start", "", "stop"]
    assert [event.beams for event in triplet] == [("begin",), ("continue",), ("end",)]
    assert all(event.value.tuplet == (1, 1) for event in events if event.start < Fraction(3, 4))


@pytest.mark.parametrize(
    ("edges", "tuplet", "lengths"),
    [
        (["1/24", "1/12"], (3, 2), ["1/16", "1/16", "1/16"]),  # in the first half of the beat
        (["1/6", "1/3"], (3, 2), ["1/4", "1/4", "1/4"]),  # three quarters over two beats
        (["1/20", "1/10", "3/20", "1/5"], (5, 4), ["1/16"] * 5),
    ],
)
def test_other_divisions(edges, tuplet, lengths):
    end = {3: {"1/24": "1/8", "1/6": "1/2"}.get(edges[0]), 5: "1/4"}[tuplet[0]]
    places = ["0", *edges, end, "1"]
    strokes = [
        (a, b, "down", "plain", "ring", "all") for a, b in itertools.pairwise(places) if a != b
    ]
    events = part(notate(arrangement([("F", "0 2 3 3")], strokes)), "notation").measures[0].events
    inside = [event for event in events if event.value.tuplet != (1, 1)]
    assert [event.value.tuplet for event in inside] == [tuplet] * len(lengths)
    assert [str(event.value.length) for event in inside] == lengths
    assert sum(event.value.duration for event in events) == 1


def test_techniques_are_written_out_or_marked():
    strokes = [
        ("0", "1/4", "down", "accent", "split", "all"),
        ("1/4", "1/2", "up", "plain", "triplet", "all"),
        ("1/2", "3/4", "down", "plain", "roll", "all"),
        ("3/4", "7/8", "down", "plain", "tremolo", "all"),
        ("7/8", "1", "down", "plain", "rest", "all"),
    ]
    events = part(notate(arrangement([("F", "0 2 3 3")], strokes)), "notation").measures[0].events
    assert [
        (str(e.value.duration), len(e.notes), e.direction, e.tremolo, sorted(e.marks))
        for e in events
    ] == [
        ("1/8", 1, "down", 0, ["accent"]),
        ("1/8", 3, "down", 0, ["accent"]),
        ("1/12", 4, "up", 0, []),
        ("1/12", 4, "down", 0, []),
        ("1/12", 4, "up", 0, []),
        ("1/4", 4, "down", 0, ["roll"]),
        ("1/8", 4, "down", 2, []),  # with its own flag that makes thirty-seconds
        ("1/8", 0, None, 0, []),
    ]
    assert [note.string for note in events[0].notes] == [4]


def test_a_tremolo_in_triplets_is_written_out_to_and_fro():
    made = arrangement([("F", "0 2 3 3")], [("0", "1/2", "down", "accent", "tremolo", "all")])
    (bar,) = made.bars
    measured = replace(bar.strums[0], value=Fraction(1, 12))
    events = part(notate(replace(made, bars=(replace(bar, strums=(measured,)),))), "notation")
    struck = [event for event in events.measures[0].events if event.notes]
    assert [str(event.start) for event in struck] == ["0", "1/12", "1/6", "1/4", "1/3", "5/12"]
    assert [event.direction for event in struck] == ["down", "up"] * 3
    assert [sorted(event.marks) for event in struck] == [["accent"], *[[]] * 5]
    assert all(event.tremolo == 0 for event in struck)


SIXTEENTHS = [f"{n}/16" for n in range(8)]
QUARTERS = [
    "begin begin", "continue continue", "continue continue", "continue end",
    "continue begin", "continue continue", "continue continue", "end end",
]  # fmt: skip
EVEN = ["begin begin", *["continue continue"] * 4, "end end"]


@pytest.mark.parametrize(
    ("meter", "strokes", "beams"),
    [
        # the second beam by its own, a hook where it has no neighbour
        ("2/4", ["0", "3/16", "1/4", "5/16", "1/2"], ["begin", "end bwd", "begin fwd", "end"]),
        ("6/8", ["0", "1/8", "1/4", "3/8", "1/2", "5/8", "3/4"], ["begin", "continue", "end"] * 2),
        ("3/4", ["0", "1/8", "1/4", "1/2", "5/8", "3/4"], ["begin", "end", "", "begin", "end"]),
        ("2/2", ["0", "1/8", "1/4", "1/2", "5/8", "1"], ["begin", "end", "", "", ""]),
        ("2/2", ["0", "1/8", "1/4", "3/8", "1/2"], ["begin", "continue", "continue", "end", ""]),
        # where the beat is longer than a quarter the second beam shows the quarters
        ("2/2", [*SIXTEENTHS, "1/2", "1"], [*QUARTERS, ""]),
        ("6/4", [*SIXTEENTHS, "1/2", "3/4", "3/2"], [*QUARTERS, "", ""]),
        ("6/8", [*SIXTEENTHS[:6], "3/8", "3/4"], [*EVEN, ""]),
    ],
)  # fmt: skip
def test_beams_follow_the_beat(meter, strokes, beams):
    rows = [(a, b, "down", "plain", "ring", "all") for a, b in itertools.pairwise(strokes)]
    events = part(notate(arrangement([("F", "0 2 3 3")], rows, meter=meter)), "notation")
    short = {"backward hook": "bwd", "forward hook": "fwd"}
    found = [
        " ".join(short.get(beam, beam) for beam in event.beams)
        for event in events.measures[0].events
    ]
    assert found == beams


def test_notes_keep_the_names_they_have_in_their_chord():
    measures = part(
        notate(arrangement([("Bdim7", "5 7 6 8"), ("D7", "4 5 4 5")])), "notation"
    ).measures
    names = [[str(note.pitch) for note in measure.events[0].notes] for measure in measures]
    assert names == [["F3", "D4", "Ab4", "F5"], ["E3", "C4", "F#4", "D5"]]


def test_a_bass_takes_the_name_of_its_chord_tone_and_else_of_the_key():
    arranged = arrangement([("D7", "4 5 4 5")], bass=[("0", "1/2", "F#2"), ("1/2", "1", "Eb2")])
    names = [
        str(n.pitch) for e in part(notate(arranged), "bass").measures[0].events for n in e.notes
    ]
    assert names == ["F#2", "Eb2"]


SHARPS = {"C": 0, "F": -1, "Eb": -3, "D": 2, "F#": 6, "Dm": -1, "C#m": 4}


@pytest.mark.parametrize("key", sorted(SHARPS))
def test_a_reader_of_the_printed_signs_hears_the_right_pitches(key):
    """Common practice, no source: the signature holds in every octave, a sign for its own place
    until the bar line, a tied note needs none; and no sign stands that says nothing new."""
    bars = [
        [("Bb7", "5 7 8 8", "1/2"), ("Bdim7", "5 7 6 8", "1/2")],
        [("D7", "4 5 4 5", "1/4"), ("Dm7", "5 5 3 5", "1/4"), ("F#7", "4 6 4 6", "1/2")],
        [("F7", "5 5 7 6", "1/2"), ("C", "4 5 5 7", "1/2")],
    ]
    sharps = SHARPS[key]
    signature = dict.fromkeys("FCGDAEB"[:sharps] if sharps > 0 else "", 1)
    signature |= dict.fromkeys("BEADGCF"[: max(0, -sharps)], -1)
    signs = 0
    for measure in part(notate(arrangement(bars, SYNCOPATED[:5], key=key)), "notation").measures:
        in_force: dict[tuple[str, int], int] = {}
        for event in measure.events:
            for note in event.notes:
                name = note.pitch.spelling
                place = (name.step, note.pitch.octave)
                before = in_force.get(place, signature.get(name.step, 0))
                if note.accidental is None:
                    assert event.tied_from or name.alter == before
                else:
                    assert note.accidental == name.alter != before
                    in_force[place] = note.accidental
                    signs += 1
    assert signs > 4


def test_chord_marks_stand_where_chords_are_written():
    arranged = arrangement(BARS)
    marks = [
        (measure.number, str(mark.start), str(mark.chord) if mark.chord else "N.C.")
        for measure in part(notate(arranged), "notation").measures
        for mark in measure.chords
    ]
    assert marks == [
        (1, "0", "F"),
        (2, "0", "F"),
        (2, "1/2", "C7"),
        (3, "0", "Bb"),
        (4, "0", "N.C."),
        (5, "0", "Bdim7"),
        (6, "0", "Gm7"),
        (6, "1/2", "C7"),
    ]


def test_sections_keys_and_the_end_are_marked():
    arranged = arrangement(
        [("F", "0 2 3 3")] * 4, sections=["A", "A", "B", "B"], keys=["F", "F", "Bb", "Bb"]
    )
    measures = part(notate(arranged), "notation").measures
    assert [m.rehearsal for m in measures] == ["A", "", "B", ""]
    assert [m.barline for m in measures] == ["regular", "double", "regular", "final"]
    assert [m.new_key for m in measures] == [True, False, True, False]
    assert [m.new_meter for m in measures] == [True, False, False, False]


def test_a_pickup_is_a_measure_that_is_not_counted():
    measures = part(notate(arrangement(BARS, pickup=Fraction(1, 4))), "notation").measures
    assert (measures[0].number, measures[0].implicit, measures[0].length) == (
        0,
        True,
        Fraction(1, 4),
    )
    assert measures[1].number == 1
    assert measures[0].new_key
    assert not measures[1].new_key


@pytest.mark.parametrize(("instrument", "octave"), [(BANJO, -1), (GUITAR, -1), (UKULELE, 0)])
def test_the_clef_says_whether_the_part_sounds_an_octave_lower(instrument, octave):
    frets = {"tenor-banjo": "0 0 2 3", "guitar": "x 3 2 0 1 0", "ukulele": "0 0 0 3"}
    score = notate(arrangement([("C", frets[instrument.name])], instrument=instrument))
    assert part(score, "notation").clef.octave == octave
    assert part(score, "tab").clef.sign == "TAB"


@st.composite
def any_strokes(draw):
    """Strokes between places on several grids at once, in any meter."""
    meter = draw(st.sampled_from(METERS))
    top, bottom = (int(part) for part in meter.split("/"))
    bar = Fraction(top, bottom)
    grids = draw(st.lists(st.sampled_from([4, 8, 12, 16, 20, 24, 28, 32, 48]), max_size=2))
    edges = {Fraction(0), bar}
    for grid in grids:
        places = draw(st.lists(st.integers(0, int(bar * grid)), max_size=6))
        edges |= {Fraction(place, grid) for place in places}
    kinds = st.sampled_from(["ring", "choked", "dead", "tremolo", "split", "triplet", "rest", ""])
    rows = [
        (str(a), str(b), draw(st.sampled_from(["down", "up"])), "plain", draw(kinds), "all")
        for a, b in itertools.pairwise(sorted(edges))
    ]
    return meter, [row for row in rows if row[4]]


@settings(max_examples=examples(300))
@given(any_strokes())
def test_any_rhythm_fills_its_bar_with_values_that_exist(case):
    meter, strokes = case
    measure = part(notate(arrangement([("F", "0 2 3 3")], strokes, meter=meter)), "notation")
    (measure,) = measure.measures
    if measure.events[0].whole_measure:
        return
    now = Fraction(0)
    for event in measure.events:
        assert event.start == now
        assert event.value.length >= Fraction(1, 128)
        assert event.value.dots in {0, 1}
        now = event.end
    assert now == measure.length


def test_only_what_no_values_show_is_rounded():
    exact = [
        ("0", "1/12", "down", "plain", "ring", "all"),
        ("1/12", "1/8", "up", "plain", "ring", "all"),
        ("1/8", "1", "up", "plain", "ring", "all"),
    ]
    wild = [
        ("0", "1/20", "down", "plain", "ring", "all"),
        ("1/20", "5/24", "up", "plain", "ring", "all"),
        ("5/24", "23/96", "up", "plain", "ring", "all"),
        ("23/96", "1", "down", "plain", "ring", "all"),
    ]
    for strokes, starts in ((exact, ["0", "1/12", "1/8"]), (wild, ["0", "1/16", "7/32", "1/4"])):
        events = (
            part(notate(arrangement([("F", "0 2 3 3")], strokes)), "notation").measures[0].events
        )
        assert [str(e.start) for e in events if e.notes and not e.tied_from] == starts
