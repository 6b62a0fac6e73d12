"""The figures of strokes, basses, voicings and chance, each from its words once more."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import product

import pytest

from accomp.harmony import parse_chord
from accomp.rhythm.bass_cost import BassRole, OpenNote, candidates, move_cost, note_cost, role_pc
from accomp.rhythm.comping import movement, voicings
from accomp.rhythm.drift import drift, spread_factor, straying, uneven
from accomp.rhythm.feel import jitter, swung, swung_time, weight
from accomp.rhythm.passage import Ending, phrase_ends
from accomp.rhythm.pattern import BandNote, BandPattern, Pattern, common_length, sounding_share
from accomp.rhythm.stroke import (
    Stroke,
    StrokeDirection,
    louder,
    spread_ms,
    tapered,
    velocity,
)
from accomp.rhythm.strum import (
    choose_strings,
    roll_ms,
    tremolo_direction,
    tremolo_force,
    tremolo_starts_s,
    written_strokes,
)
from accomp.rhythm.style import Style
from accomp.rhythm.ways import pick_up, roll_off, slowing, stopping, tagged
from accomp.time import METERS, Meter, Span

FOUR, WHOLE = Meter.parse("4/4"), Fraction(1)
STEPS = ["ghost", "light", "plain", "heavy", "accent"]


def test_what_a_step_of_force_is_in_figures() -> None:
    """Ours: velocity, the time across four strings at 120 and the loss from string to string."""
    assert [velocity(step) for step in STEPS] == [44, 66, 80, 94, 102]
    assert [spread_ms(step, 120, 4) for step in STEPS] == [30, 26, 22, 17, 14]
    assert [velocity(step) - tapered(step, 1) for step in STEPS] == [5, 4, 3, 2, 1]
    assert [tapered("plain", order, 2.0) for order in range(4)] == [80, 74, 68, 62]
    assert tapered("ghost", 9) == 1
    assert [spread_ms("plain", 120, strings) for strings in (0, 1, 2, 4, 7)] == [
        0, 0, pytest.approx(22 / 3), 22, 44,
    ]  # fmt: skip
    assert spread_ms("plain", 480, 4) == pytest.approx(22 * 0.6)
    assert spread_ms("plain", 270, 4) == pytest.approx(22 * 2 / 3)
    assert spread_ms("plain", 120, 4, 0.5) == 11
    for at, by in product(range(5), range(-6, 7)):
        assert louder(STEPS[at], by) == STEPS[max(0, min(4, at + by))]


def test_rolls_and_tremolos_in_figures() -> None:
    assert [roll_ms(1000, strings) for strings in range(6)] == [0, 0, 55, 110, 165, 220]
    assert roll_ms(200, 4) == 120  # three fifths of the stroke's time at most
    assert tremolo_starts_s(0.5, None) == pytest.approx([n / 12 for n in range(6)])
    assert tremolo_starts_s(0.54, None) == pytest.approx([n * 0.09 for n in range(6)])
    assert tremolo_starts_s(0.01, None) == (0.0,)
    assert tremolo_starts_s(0.5, 0.125) == pytest.approx([0, 0.125, 0.25, 0.375])
    assert tremolo_starts_s(0.18, 0.125) == (0.0,)
    assert tremolo_starts_s(0.19, 0.125) == (0.0, 0.125)
    assert tremolo_starts_s(0.05, 0.125) == (0.0,)
    down = StrokeDirection.DOWN
    assert [tremolo_direction(down, n) for n in range(3)] == ["down", "up", "down"]
    assert [tremolo_force("heavy", n) for n in range(3)] == ["heavy", "plain", "plain"]


def test_a_stroke_in_movements() -> None:
    span = Span(Fraction(1, 4), Fraction(3, 4))
    half = Fraction(1, 2)

    def told(technique: str, strings: tuple[int, ...], **more: object) -> list[tuple[object, ...]]:
        stroke = Stroke(span, technique=technique, **more)
        return [
            (s.span.start, s.span.end, s.direction, s.force, s.sound, s.technique, met)
            for s, met in written_strokes(stroke, strings)
        ]

    quarter, end = span.start, span.end
    row = (0, 1, 2)
    assert told("rest", row) == [(quarter, end, "down", "plain", "ring", "rest", ())]
    assert told("roll", row) == [(quarter, end, "down", "plain", "ring", "roll", row)]
    assert told("split", row, sound="choked") == [
        (quarter, half, "down", "plain", "ring", "stroke", (0,)),
        (half, end, "down", "plain", "choked", "stroke", (1, 2)),
    ]
    assert told("split", (2, 3)) == [
        (quarter, half, "down", "plain", "ring", "stroke", (2,)),
        (half, end, "down", "plain", "ring", "stroke", (3,)),
    ]
    assert told("split", (2,)) == [(quarter, end, "down", "plain", "ring", "stroke", (2,))]
    third = Fraction(1, 6)
    assert told("triplet", row, force="accent") == [
        (quarter, quarter + third, "down", "accent", "ring", "stroke", row),
        (quarter + third, quarter + 2 * third, "up", "heavy", "ring", "stroke", row[::-1]),
        (quarter + 2 * third, end, "down", "heavy", "ring", "stroke", row),
    ]


def test_a_single_string_that_does_not_sound_gives_way_to_the_nearest() -> None:
    assert choose_strings("string1", (0, 2, 3), "down", strings=4) == (3,)
    assert choose_strings("string3", (0, 2, 3), "down", strings=4) == (0,)  # of two, the lower
    assert choose_strings("string3", (0, 3), "down", strings=4) == (0,)
    assert choose_strings("string2", (0, 3), "down", strings=4) == (3,)
    assert choose_strings("string4", (2, 3), "down", strings=4) == (2,)
    assert choose_strings("string9", (1, 2), "up", strings=4) == (1,)
    assert choose_strings("all", (), "down", strings=4) == ()
    assert choose_strings("outer", (1,), "up", strings=4) == (1,)
    assert choose_strings("inner", (1,), "up", strings=4) == (1,)
    assert choose_strings("inner", (1, 3), "up", strings=4) == (3, 1)


# The bass


def role_note(role: str, symbol: str, scale: frozenset[int] = frozenset()) -> OpenNote:
    return OpenNote(
        Span(Fraction(0), WHOLE), parse_chord(symbol), BassRole(role), "plain", "", scale
    )


# What the roles are in semitones over the root of some chords, from their names.
ROLES_OF = {
    "C": {"root": 0, "third": 4, "fifth": 7, "sixth": 9, "seventh": 0, "octave": 0},
    "Cm7": {"third": 3, "fifth": 7, "sixth": 9, "seventh": 10},
    "Cdim7": {"third": 3, "fifth": 6, "sixth": 9, "seventh": 9},
    "C+": {"third": 4, "fifth": 8, "seventh": 0},
    "C6": {"sixth": 9, "seventh": 9},
    "Cmaj7": {"seventh": 11, "sixth": 9},
    "C7sus4": {"third": 5, "seventh": 10},
    "Csus2": {"third": 2},
    "C5": {"third": 0, "fifth": 7},
    "C7b13": {"sixth": 8},
    "C/E": {"root": 4, "octave": 4, "third": 4, "fifth": 7, "seventh": 0},
}


def test_roles_of_the_bass_in_semitones() -> None:
    for symbol, roles in ROLES_OF.items():
        for role, over in roles.items():
            for by, root in enumerate("C Db D Eb E F Gb G Ab A Bb B".split()):
                if "/" in symbol and by:
                    continue
                chord = parse_chord(root + symbol[1:])
                assert role_pc(chord, BassRole(role)) == (by + over) % 12, (chord, role)


def test_what_a_note_of_the_bass_costs_by_itself() -> None:
    for pitch in range(28, 56):
        far = max(0, 33 - pitch, pitch - 47)  # a fifth around E2 costs nothing
        over = pitch % 12
        assert note_cost(role_note("root", "C"), pitch) == far
        assert note_cost(role_note("approach", "C"), pitch) == far
        assert note_cost(role_note("tone", "C"), pitch) == far + 3 * (over == 0)
        foreign = 0 if over in (0, 4, 7) else 2 if over in (2, 5, 9) else 4
        assert note_cost(role_note("walk", "C"), pitch) == far + 3 * (over == 0) + foreign


# By the size of a move in semitones, 0 to 12 (ours): a step is free, a tritone is awkward.
MOVES = [6, 0, 0, 1, 1, 2, 4, 2, 4, 5, 8, 9, 4]


def test_what_a_move_of_the_bass_costs() -> None:
    c = {role: role_note(role, "C") for role in ("root", "fifth", "octave", "again", "approach")}
    for first, second in product(range(28, 56), repeat=2):
        size = abs(first - second)
        plain = MOVES[size] if size <= 12 else None
        assert move_cost(c["root"], c["fifth"], first, second) == plain
        octave = None if plain is None else plain + 10 * (size != 12)
        assert move_cost(c["root"], c["octave"], first, second) == octave
        assert move_cost(c["root"], c["again"], first, second) == (0 if size == 0 else None)
        falls = (first - second) % 12 == 7  # a fifth down, or a fourth up
        led = {1: 0, 2: 1}.get(size, 3 if falls and size <= 12 else None)
        lead = None if led is None or plain is None else plain + led
        assert move_cost(c["approach"], c["root"], first, second) == lead
    walk = role_note("walk", "C")
    for size, expected in ((1, 0), (2, 0), (3, None), (5, None)):
        assert move_cost(walk, c["root"], 42, 42 + size) == expected  # from F#
        assert move_cost(c["root"], walk, 42 + size, 42) == expected
    assert move_cost(walk, c["root"], 40, 43) == 1  # from E, which is the chord's own


def test_which_pitches_a_role_allows() -> None:
    c = {"c": {0}, "tone": {0, 4, 7}}
    whole = range(28, 56)
    assert candidates(role_note("root", "C"), 28, 55) == (36, 48)
    assert candidates(role_note("root", "E"), 28, 40) == (28, 40)
    assert list(candidates(role_note("tone", "C"), 28, 55)) == [
        pitch for pitch in whole if pitch % 12 in c["tone"]
    ]
    for role in ("walk", "approach", "again"):
        assert candidates(role_note(role, "C"), 28, 55) == tuple(whole)
    scale = frozenset({0, 2, 4, 5, 7, 9, 11})
    near = candidates(role_note("approach", "E7", scale), 28, 55)
    assert {pitch % 12 for pitch in near} == scale | {8}  # and the third of E7
    assert candidates(role_note("walk", "E7", scale), 28, 55) == tuple(whole)


# The second player


@pytest.mark.parametrize(("symbol", "tones"), [("C", {0, 4, 7}), ("C7", {0, 4, 7, 10})])
def test_voicings_are_all_inversions_from_d3_to_f5(symbol: str, tones: set[int]) -> None:
    found = voicings(parse_chord(symbol))
    expected = []
    for bottom in range(50, 78):
        row = [p for p in range(bottom, bottom + 12) if p % 12 in tones]
        if bottom % 12 in tones and row[-1] <= 77:
            expected.append(tuple(row))
    assert list(found) == expected
    assert {len(row) for row in voicings(parse_chord("C13"))} == {4}


def test_movement_of_voices_from_the_top() -> None:
    assert movement((60, 64, 67), (60, 65, 69)) == 3
    assert movement((60, 64, 67), (58, 60, 64, 67)) == 2  # a voice comes a tone under C
    assert movement((58, 60, 64, 67), (60, 64, 67)) == 2
    assert movement((60, 64, 67), (60, 64, 67)) == 0
    # From the top: 67 to 64, 64 to 60; then 50 and 60 come from 60, the nearest.
    assert movement((50, 60, 64, 67), (60, 64)) == 3 + 4 + 10 + 0


# Chance

WEIGHTS = [833, 704, 207]
JITTERS = [0.323422, 0.5283, 0.067994]
DRIFTS = [-0.506885, 2.065917, -0.313892, 0.032876, 0.314884]
STRAYS = [0.064178, 1.865949, -0.366913]
NAMELESS = -0.202442


def test_a_seed_that_was_written_down_plays_the_same_ever_after() -> None:
    """Ours, and to be kept: whoever notes a seed wants the same performance next year."""
    assert [weight(1000, seed, "bass", "1/A/1/0", 40) for seed in range(3)] == WEIGHTS
    assert [round(jitter(seed, "strum", Fraction(1, 4)), 6) for seed in range(3)] == JITTERS
    bar = Fraction(3, 4)
    drifts = [drift(1, "bass", f"1/A/1/{n}", Fraction(n, 8), bar) for n in range(5)]
    assert [round(one, 6) for one in drifts] == DRIFTS
    strays = [straying(1, "bass", f"1/A/1/{n}", Fraction(n, 8), bar) for n in range(3)]
    assert [round(one, 6) for one in strays] == STRAYS
    assert round(drift(1, "bass", "tune", Fraction(0), bar), 6) == NAMELESS


def test_uneven_gaps_add_up_to_the_whole() -> None:
    names = ("strum", "1/A/1/0")
    for strings in range(2, 7):
        met = uneven(strings, 3, names)
        gaps = [1 + 0.4 * jitter(3, *names, "gap", order) for order in range(1, strings)]
        assert met == pytest.approx([sum(gaps[:n]) / sum(gaps) for n in range(strings)])
    plain = 1 + 0.25 * jitter(3, *names, "spread")
    assert spread_factor(up=False, seed=3, names=names) == pytest.approx(plain)
    assert spread_factor(up=True, seed=3, names=names) == pytest.approx(0.85 * plain)


def test_swing_in_figures() -> None:
    quarter, eighth = Fraction(1, 4), Fraction(1, 8)
    assert [swung(Fraction(n, 4), 3.0) for n in range(5)] == [0, 0.375, 0.75, 0.875, 1]
    assert swung_time(eighth, 3.0, quarter) == 0.1875
    assert swung_time(quarter + eighth, 3.0, quarter) == 0.4375
    assert swung_time(-eighth, 3.0, quarter) == pytest.approx(-0.0625)
    assert swung_time(eighth, 1.0, quarter) == 0.125


# Patterns and phrases


def test_lengths_of_notes_and_of_two_patterns() -> None:
    span = Span(Fraction(1, 4), Fraction(3, 4))
    ends = [sounding_share(span, length).end for length in ("long", "short", "stop")]
    assert ends == [Fraction(3, 4), Fraction(1, 2), Fraction(3, 8)]
    for a, b in product([Fraction(n, d) for n in range(1, 7) for d in (2, 4, 8)], repeat=2):
        steps = [n * a for n in range(1, 200)]
        assert common_length(a, b) == next(step for step in steps if step % b == 0)


def test_where_the_phrases_of_a_section_end() -> None:
    assert {
        (bars, phrase): " ".join(map(str, phrase_ends(bars, phrase)))
        for bars, phrase in [
            (8, 8), (16, 8), (12, 8), (20, 8), (10, 8), (11, 8), (13, 8), (4, 8), (3, 8), (1, 8),
            (12, 4), (14, 4), (6, 4), (7, 4), (24, 16), (20, 16), (18, 16), (9, 3), (10, 3), (5, 1),
        ]
    } == {
        (8, 8): "8", (16, 8): "8 16", (12, 8): "4 8 12", (20, 8): "4 8 12 16 20", (10, 8): "10",
        (11, 8): "11", (13, 8): "8 13", (4, 8): "4", (3, 8): "3", (1, 8): "1",
        (12, 4): "4 8 12", (14, 4): "4 8 14", (6, 4): "6", (7, 4): "7", (24, 16): "8 16 24",
        (20, 16): "4 8 12 16 20", (18, 16): "18", (9, 3): "3 6 9", (10, 3): "3 6 10",
        (5, 1): "1 2 3 4 5",
    }  # fmt: skip


# Ways to begin and to end


def players(meter: Meter, *drums: str, **more: object) -> Style:
    bar = meter.bar
    band = BandPattern(bar, tuple(BandNote(Fraction(0), drum) for drum in drums)) if drums else None
    strum = Pattern(bar, (Stroke(Span(Fraction(0), bar)),))
    fields = {"bass": None, "drums": band, **more}
    return Style(name="own", title="Own", meter=meter, tempo=(60.0, 200.0), strum=strum, **fields)


@pytest.mark.parametrize("name", METERS)
def test_a_roll_thickens_from_the_middle_of_its_bar_and_grows(name: str) -> None:
    meter = Meter.parse(name)
    style = players(meter, "snare")
    half = meter.beats // 2
    starts = [meter.beat * n for n in range(half)]
    parts = 3 if meter.compound else 2
    starts += [
        meter.beat * half + meter.beat / parts * n for n in range((meter.beats - half) * parts)
    ]
    found = roll_off(style).lead_in
    assert [note.start for note in found.notes] == starts
    forces = [STEPS.index(note.force) for note in found.notes]
    assert forces == sorted(forces)
    assert (forces[-1], found.length) == (4, meter.bar)
    last = pick_up(style).lead_in
    assert [note.start for note in last.notes] == [
        meter.bar - meter.beat + meter.beat / parts * n for n in range(parts)
    ]
    assert [note.force for note in last.notes] == [
        ["plain", "accent"], ["plain", "heavy", "accent"],
    ][parts - 2]  # fmt: skip


@pytest.mark.parametrize(
    ("drums", "leads"),
    [
        ("snare hat hat", "snare"),
        ("hat ride ride bass-drum bass-drum bass-drum", "ride"),
        ("hat ride", "hat"),  # of equals the earlier
        ("bass-drum hi-wood-block low-wood-block acoustic-bass-drum", "snare"),
    ],
)
def test_which_drum_leads_in(drums: str, leads: str) -> None:
    for way in (roll_off, pick_up):
        assert {note.what for note in way(players(FOUR, *drums.split())).lead_in.notes} == {leads}


def test_without_drums_nobody_leads_in() -> None:
    for way in (roll_off, pick_up):
        assert way(players(FOUR)).lead_in is None
        silent = players(FOUR, drums=BandPattern(WHOLE, ()))
        assert way(silent).lead_in is None


def test_ways_to_end_in_figures() -> None:
    bass = BandPattern(WHOLE, (BandNote(Fraction(0), "fifth"),), "tuba")
    comping = BandPattern(WHOLE, (BandNote(Fraction(1, 4), "shell"),), "piano")
    style = players(FOUR, "bass-drum", "hat", bass=bass, comping=comping)
    own = replace(style, ending=Ending(ritard=3, slow_to=0.5, tag=2))
    assert (slowing(style).ending.ritard, slowing(style).ending.slow_to) == (2, 0.65)
    assert (slowing(own).ending.ritard, slowing(own).ending.slow_to) == (3, 0.5)
    short = replace(style, ending=Ending(ritard=1, slow_to=0.8))
    assert (slowing(short).ending.ritard, slowing(short).ending.slow_to) == (2, 0.8)
    for way in (slowing, stopping):
        assert way(own).ending.tag == 0
    assert (stopping(own).ending.ritard, stopping(own).ending.slow_to) == (0, 1.0)
    assert [tagged(each).ending.tag for each in (style, own)] == [1, 2]
    assert (tagged(own).ending.ritard, tagged(own).ending.slow_to) == (0, 1.0)

    def last(made: Style) -> list[object]:
        end = made.ending
        stroke = end.strum.strokes[0]
        rows = [
            (n.what, n.force, n.sound, p.player) for p in (end.bass, end.comping) for n in p.notes
        ]
        drums = [(n.start, n.what, n.force) for n in end.drums.notes]
        return [(stroke.force, stroke.sound, stroke.technique, stroke.span), rows, drums]

    bar = Span(Fraction(0), WHOLE)
    assert last(slowing(style)) == [
        ("heavy", "ring", "roll", bar),
        [("root", "heavy", "long", "tuba"), ("chord", "heavy", "long", "piano")],
        [(0, "bass-drum", "plain"), (0, "hat", "plain")],
    ]
    assert last(stopping(style)) == [
        ("accent", "heel", "stroke", bar),
        [("root", "heavy", "stop", "tuba"), ("chord", "heavy", "stop", "piano")],
        [(0, "bass-drum", "accent"), (0, "hat", "accent")],
    ]
    late = BandPattern(WHOLE, (BandNote(Fraction(1, 4), "ride"), BandNote(Fraction(1, 2), "hat")))
    assert [n.what for n in stopping(players(FOUR, drums=late)).ending.drums.notes] == ["ride"]
    for nobody in (players(FOUR), players(FOUR, drums=BandPattern(WHOLE, ()))):
        alone = slowing(nobody).ending
        assert (alone.bass, alone.drums, alone.comping) == (None, None, None)
