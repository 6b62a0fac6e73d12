"""Each property of a stroke and of a style, seen on the notes that are played."""

from __future__ import annotations

import itertools
from collections import defaultdict
from dataclasses import replace
from fractions import Fraction

import pytest
from played import BASS, FLAT, arranged, pattern, performed, player, style, tune

from accomp.rhythm import BandNote, BandPattern, Pattern, Stroke
from accomp.rhythm.passage import Ending, Passage
from accomp.rhythm.stroke import spread_ms, velocity
from accomp.score.performance import Note, Performance
from accomp.time import Span

C_OPEN, C_CLOSED, F = "0 0 2 3", "4 5 5 7", "0 2 3 3"
WHOLE = Fraction(1)


def one(length: Fraction = WHOLE, **what: object) -> Pattern:
    """A pattern of one stroke that fills its length."""
    return Pattern(length, (Stroke(Span(Fraction(0), length), **what),))


def notes_of(
    strum: Pattern, shape: str = C_CLOSED, bars: str = "| C |", **more: object
) -> list[Note]:
    performance = performed(arranged(tune(bars), style(strum, **more), shape))
    return sorted(player(performance), key=lambda note: note.start_s)


def drums_of(performance: Performance) -> tuple[Note, ...]:
    return next(track.notes for track in performance.tracks if track.name == "Drums")


# Strokes


def test_the_strings_of_a_strum_start_in_order_within_the_spread() -> None:
    for force in ("ghost", "light", "plain", "heavy", "accent"):
        notes = notes_of(one(force=force))
        gaps = [b.start_s - a.start_s for a, b in itertools.pairwise(notes)]
        assert all(gap > 0 for gap in gaps)
        spread_s = notes[-1].start_s - notes[0].start_s
        assert spread_s == pytest.approx(spread_ms(force, 120, 4) / 1000)


def test_the_spread_shrinks_with_tempo_and_force_and_follows_the_style() -> None:
    def spread(force: str, tempo: float, **more: object) -> float:
        made = arranged(tune("| C |"), style(one(force=force), **more), C_CLOSED)
        notes = player(performed(replace(made, tempo=tempo)))
        return max(n.start_s for n in notes) - min(n.start_s for n in notes)

    assert spread("plain", 80) > spread("plain", 160)
    assert spread("light", 120) > spread("heavy", 120) > spread("accent", 120)
    assert spread("plain", 120, spread=2.0) == pytest.approx(2 * spread("plain", 120))


def test_force_steps_and_the_taper_from_string_to_string() -> None:
    light, heavy = notes_of(one(force="light")), notes_of(one(force="heavy"))
    assert light[0].velocity == velocity("light") < heavy[0].velocity == velocity("heavy")
    loud = [note.velocity for note in light]
    assert loud == sorted(loud, reverse=True)
    assert loud[0] > loud[-1]
    assert len({note.velocity for note in notes_of(one(force="light"), taper=0.0)}) == 1


@pytest.mark.parametrize(
    ("choice", "channels"),
    [("all", [0, 1, 2, 3]), ("low3", [0, 1, 2]), ("high1", [3]), ("inner", [1, 2]),
     ("outer", [0, 3]), ("string2", [2])],
)  # fmt: skip
def test_only_the_chosen_strings_sound(choice: str, channels: list[int]) -> None:
    assert sorted(note.channel for note in notes_of(one(strings=choice))) == channels


def test_the_heel_stops_open_strings_too() -> None:
    ring = Stroke(Span(Fraction(0), Fraction(1, 2)))
    heel = Stroke(Span(Fraction(1, 2), WHOLE), strings="high1", sound="heel")
    notes = notes_of(Pattern(WHOLE, (ring, heel)), C_OPEN)
    assert all(note.end_s < 1.3 for note in notes)  # the bar is two seconds long


def test_a_choked_stroke_leaves_the_other_strings_ringing() -> None:
    ring = Stroke(Span(Fraction(0), Fraction(1, 2)))
    choked = Stroke(Span(Fraction(1, 2), WHOLE), strings="high1", sound="choked")
    notes = notes_of(Pattern(WHOLE, (ring, choked)), C_OPEN)
    assert {note.channel for note in notes if note.end_s == pytest.approx(2.0)} == {0, 1, 2}


@pytest.mark.parametrize(("length", "held_s"), [("1", 0.11), ("1/16", 0.45 * 0.125)])
def test_the_hand_lets_go_just_after_the_last_string(length: str, held_s: float) -> None:
    """After 110 ms, or 45 % of a shorter stroke: choices of our own, held here."""
    notes = notes_of(one(Fraction(length), sound="choked"))[:4]
    assert [note.end_s for note in notes] == pytest.approx([notes[-1].start_s + held_s] * 4)


def test_the_spread_takes_a_third_of_the_stroke_at_most() -> None:
    notes = notes_of(one(Fraction(1, 16), sound="choked"), spread=3.0)[:4]
    assert notes[-1].start_s - notes[0].start_s == pytest.approx(0.125 / 3)
    wide = notes_of(one(Fraction(1, 4), sound="choked"), spread=3.0)[:4]
    assert wide[-1].start_s - wide[0].start_s == pytest.approx(3 * spread_ms("plain", 120, 4) / 1e3)


def test_a_rest_stops_everything_and_strikes_nothing() -> None:
    ring = Stroke(Span(Fraction(0), Fraction(1, 4)))
    rest = Stroke(Span(Fraction(1, 4), WHOLE), technique="rest")
    notes = notes_of(Pattern(WHOLE, (ring, rest)), C_OPEN)
    assert len(notes) == 4
    assert all(note.end_s == pytest.approx(0.5) for note in notes)


def test_an_unmeasured_tremolo_fills_its_time_to_and_fro() -> None:
    notes = notes_of(one(technique="tremolo", strings="high2"))
    first_string = [note for note in notes if note.channel == 2]
    assert 20 <= len(first_string) <= 28  # two seconds at about twelve strokes a second
    by_stroke = [notes[i : i + 2] for i in range(0, len(notes), 2)]
    orders = [[note.channel for note in pair] for pair in by_stroke]
    assert orders[:4] == [[2, 3], [3, 2], [2, 3], [3, 2]]
    assert notes[0].velocity > notes[2].velocity


@pytest.mark.parametrize(
    ("value", "number"), [("1/8", 8), ("1/12", 12), ("1/16", 16), ("1/32", 32)]
)
def test_a_measured_tremolo_keeps_to_its_value(value: str, number: int) -> None:
    notes = notes_of(one(technique="tremolo", strings="high1", value=Fraction(value)))
    starts = [note.start_s for note in notes]
    assert starts == pytest.approx([2.0 * float(Fraction(value)) * n for n in range(number)])


def test_a_triplet_is_three_even_strokes_the_middle_one_up() -> None:
    quarter = Fraction(1, 4)
    notes = notes_of(one(quarter, technique="triplet", strings="high2"))[:6]
    pairs = [notes[i : i + 2] for i in (0, 2, 4)]
    assert [pair[0].start_s for pair in pairs] == pytest.approx([0, 0.5 / 3, 1 / 3])
    assert [[note.channel for note in pair] for pair in pairs] == [[2, 3], [3, 2], [2, 3]]
    assert pairs[0][0].velocity > pairs[1][0].velocity == pairs[2][0].velocity


def test_a_split_stroke_is_the_low_string_and_then_the_others() -> None:
    half = Fraction(1, 2)
    notes = notes_of(one(half, technique="split", sound="choked"))[:4]
    assert [note.channel for note in notes] == [0, 1, 2, 3]
    assert [notes[0].start_s, notes[1].start_s] == pytest.approx([0.0, 0.5])
    assert notes[0].bank == 0
    assert {note.bank for note in notes[1:]} == {1}


def test_a_roll_can_be_told_string_by_string() -> None:
    notes = notes_of(one(technique="roll"))
    gaps = [b.start_s - a.start_s for a, b in itertools.pairwise(notes)]
    assert gaps == pytest.approx([gaps[0]] * 3)
    assert 0.04 < gaps[0] < 0.08  # the ear tells two onsets apart from about 30 ms on
    short = notes_of(one(Fraction(1, 8), technique="roll"))[:4]
    assert short[-1].start_s - short[0].start_s < 0.25


def test_a_re_entrant_tuning_is_strummed_by_the_order_of_its_strings() -> None:
    from accomp.neck import Plan, find_hand, find_instrument, playable_shapes
    from accomp.score.arrange import arrange
    from accomp.score.planning import tune_chords
    from accomp.time import Meter

    ukulele = find_instrument("ukulele")
    made = tune("| C |")
    chords = tune_chords(made)
    shapes = playable_shapes(chords.chords[0], ukulele, find_hand("medium"))
    shape = next(shape for shape in shapes if str(shape) == "0 0 0 3")
    styles = {(None, Meter.parse("4/4")): style(one())}
    arrangement = arrange(made, chords, [Plan("test", (shape,), 0.0)], styles, ukulele)
    notes = sorted(player(performed(arrangement)), key=lambda note: note.start_s)
    assert [note.pitch for note in notes] == [67, 60, 64, 72]  # g C E c: the fourth string is high


# Looseness


EIGHTHS = pattern(WHOLE, *((f"{n}/8", "ring", "down", "low1") for n in range(8)))
JITTER = {"jitter_ms": 10.0, "jitter_force": 8.0}


def straying_notes(bars: str, seed: int = 0, **more: object) -> tuple[Note, ...]:
    shapes = [C_OPEN] * 8
    made = arranged(tune(bars), style(EIGHTHS, **{**JITTER, **more}), *shapes[:1])
    return player(performed(replace(made, seed=seed)))


def test_jitter_strays_within_its_bounds_and_repeats() -> None:
    notes = straying_notes("| C | C |")
    even = [n * 0.25 for n in range(16)]
    stray = [note.start_s - at_s for note, at_s in zip(notes, even, strict=True)]
    assert all(abs(s) <= 2.5 * 0.010 for s in stray)
    assert len({round(s, 6) for s in stray}) > 10
    shaped = velocity("plain") * (10 ** (2 / 40) - 1)  # the bars themselves lie within 2 dB
    assert all(abs(note.velocity - velocity("plain")) <= 8.5 + shaped for note in notes)
    assert straying_notes("| C | C |") == notes
    assert straying_notes("| C | C |", seed=1) != notes


def test_adding_a_bar_leaves_the_others_alone() -> None:
    two, three = straying_notes("| C | C |"), straying_notes("| C | C | C |")
    assert [(n.start_s, n.velocity) for n in two] == [(n.start_s, n.velocity) for n in three[:16]]


BY_STRING = pattern(WHOLE, *((f"{n}/4", "ring", "down", f"string{4 - n}") for n in range(4)))
WILD = {"jitter_ms": 1000.0, "jitter_force": 300.0}  # far more than a style may ask for


def wild(count_in: int) -> list[list[Note]]:
    """The four notes of a bar, each on a string of its own, under many seeds."""
    made = arranged(tune("| C |"), style(BY_STRING, **WILD), C_OPEN)
    every = [player(performed(replace(made, seed=seed), count_in)) for seed in range(60)]
    return [[note for notes in every for note in notes if note.channel == n] for n in range(4)]


def test_the_wildest_stroke_comes_a_quarter_of_its_length_early_at_most() -> None:
    for count_in in (0, 1):
        for number, notes in enumerate(wild(count_in)):
            earliest = min(note.start_s for note in notes) - 2.0 * count_in
            # a quarter lasts half a second; before the file begins nobody can play
            at_most = 0.0 if number + count_in == 0 else 0.125
            assert earliest == pytest.approx(number * 0.5 - at_most), (count_in, number)


def test_the_wildest_force_is_one_that_midi_knows() -> None:
    loud = [note.velocity for notes in wild(1) for note in notes]
    assert (min(loud), max(loud)) == (1, 127)


def test_a_late_stroke_has_let_go_before_the_next_is_due() -> None:
    sixteenths = one(Fraction(1, 16), sound="choked")
    made = arranged(tune("| C |" * 1), style(sixteenths, jitter_ms=100.0), C_CLOSED)
    late = 0
    for seed in range(10):
        for note in player(performed(replace(made, seed=seed))):
            place = int((note.start_s + 0.0313) / 0.125)  # early by a quarter of it at most
            late += note.start_s - place * 0.125 > 0.06
            assert note.end_s <= (place + 1) * 0.125
    assert late > 50


def test_the_band_strays_within_its_notes_too() -> None:
    halves = BandPattern(WHOLE, (BandNote(Fraction(0), "root"), BandNote(Fraction(1, 2), "fifth")))
    made = arranged(tune("| C |"), style(FLAT, bass=halves, **WILD), C_OPEN)
    starts: list[list[float]] = [[], []]
    loud = set()
    for seed in range(60):
        band = performed(replace(made, seed=seed)).tracks
        (bass,) = (track.notes for track in band if track.name == "Bass")
        for found, note in zip(starts, bass, strict=True):
            found.append(note.start_s)
            loud.add(note.velocity)
    # a half lasts a second: a quarter of it late at most, and never before the file begins
    assert [max(found) for found in starts] == pytest.approx([0.25, 1.25])
    assert min(starts[0]) == 0.0
    assert (min(loud), max(loud)) == (1, 127)


# Passages


def two_bars(**more: object) -> Performance:
    made = arranged(tune("| C |" + " C |" * 7), style(FLAT, **more), C_CLOSED)
    return performed(made)


def strokes_by_bar(performance: Performance, bar_s: float = 2.0) -> list[int]:
    bars: dict[int, int] = defaultdict(int)
    for note in player(performance):
        if note.channel == 0:
            bars[int((note.start_s + 1e-6) / bar_s)] += 1
    return [bars[bar] for bar in range(max(bars) + 1)]


def test_a_style_answers_the_phrase() -> None:
    answer = Passage("answer", bars=(4, 8), strum=one())
    assert strokes_by_bar(two_bars(passages=(answer,))) == [4, 4, 4, 1, 4, 4, 4, 1]


def test_an_answer_over_the_pattern_adds_to_it() -> None:
    late = Pattern(WHOLE, (Stroke(Span(Fraction(7, 8), WHOLE), "up"),))
    answer = Passage("answer", bars=(8,), strum=late, over=True)
    assert strokes_by_bar(two_bars(passages=(answer,)))[-2:] == [4, 5]


def test_a_build_is_louder_from_its_chorus_on() -> None:
    build = Passage("build", since=2, louder=1)
    made = arranged(tune("| C |"), style(FLAT, passages=(build,)), C_CLOSED, choruses=3)
    loud = [note.velocity for note in player(performed(made)) if note.channel == 0]
    assert loud == [velocity("plain")] * 4 + [velocity("heavy")] * 8


def test_stop_time_leaves_the_room_and_strikes_every_chord() -> None:
    stop = Passage("break", last=True, strum=one(sound="choked"), drums=BandPattern(WHOLE, ()))
    hats = BandPattern(WHOLE, tuple(BandNote(Fraction(n, 4), "hat") for n in range(4)))
    made = arranged(
        tune("| C / F / |"),
        style(FLAT, drums=hats, passages=(stop,)),
        C_CLOSED,
        "5 5 7 8",
        choruses=2,
    )
    performance = performed(made)
    assert strokes_by_bar(performance) == [4, 2]
    assert len(drums_of(performance)) == 4


def test_stop_time_is_for_the_choruses_and_not_for_what_comes_after() -> None:
    stop = Passage("break", bars=(1, 2), phrase=16, last=True, strum=one(sound="choked"))
    head = 'coda = "Out"\nintro = "last 2"'
    made = arranged(
        tune('| C | C | C | C |\n"""\nOut = """\n| C | C |', head=head),
        style(FLAT, passages=(stop,)),
        C_CLOSED,
    )
    assert [bar.bar.section for bar in made.bars] == ["Intro"] * 2 + ["A"] * 4 + ["Out"] * 2
    assert strokes_by_bar(performed(made)) == [4, 4, 1, 1, 4, 4, 4, 4]
    tagged = arranged(
        tune("| C | C | C | C |", head='end = "tag"'), style(FLAT, passages=(stop,)), C_CLOSED
    )
    assert strokes_by_bar(performed(tagged)) == [1, 1, 4, 4] + [4] * 4


def test_an_ending_slows_down_and_the_file_says_so() -> None:
    ending = Ending(ritard=1, slow_to=0.5)
    performance = two_bars(ending=ending)
    starts = [note.start_s for note in player(performance) if note.channel == 0]
    gaps = [b - a for a, b in itertools.pairwise(starts)]
    assert gaps[:28] == pytest.approx([0.5] * 28)
    assert gaps[28:] == sorted(gaps[28:])
    assert gaps[28] > 0.5
    # A straight fall to half the tempo, each beat as in its middle: 1/(1 - (2n+1)/16) half seconds.
    beats = [0.5 / (1 - (2 * n + 1) / 16) for n in range(4)]
    assert gaps[28:] == pytest.approx(beats[:3])
    assert performance.end_s == pytest.approx(14.0 + sum(beats))
    assert [mark.start_s for mark in performance.tempos[:2]] == pytest.approx([0.0, 14.0])
    assert len(performance.tempos) == 5


def test_a_tag_plays_the_last_four_bars_again() -> None:
    performance = two_bars(ending=Ending(tag=2), bass=BASS)
    assert strokes_by_bar(performance) == [4] * 16
    assert [mark.text for mark in performance.markers] == [
        "Chorus 1: A",
        "Chorus 1: Tag",
        "Chorus 1: Tag",
    ]
    assert performance.end_s == pytest.approx(32.0)


def test_the_last_bar_has_its_own_pattern_and_only_the_last() -> None:
    ending = Ending(strum=one(technique="tremolo", strings="string4"))
    made = arranged(tune("| C | C |"), style(FLAT, ending=ending), C_CLOSED, choruses=2)
    assert strokes_by_bar(performed(made)) == [4, 4, 4, 24]


def test_drums_lead_in_over_the_count() -> None:
    fill = BandPattern(
        WHOLE, (BandNote(Fraction(3, 4), "snare"), BandNote(Fraction(7, 8), "snare"))
    )
    made = arranged(tune("| C |"), style(FLAT, lead_in=fill), C_CLOSED)
    performance = performed(made, count_in=2)
    assert [(n.start_s, n.pitch) for n in drums_of(performance)] == [(3.5, 38), (3.75, 38)]
    assert not any(track.name == "Drums" for track in performed(made, count_in=0).tracks)


def test_each_player_has_his_own_sound_and_place() -> None:
    comping = BandPattern(WHOLE, (BandNote(Fraction(1, 4), "chord"),), "accordion")
    tuba = replace(BASS, player="tuba")
    made = arranged(tune("| C |"), style(FLAT, bass=tuba, comping=comping), C_CLOSED)
    band = {track.name: track for track in performed(made).tracks}
    # General MIDI 1: program 22 accordion, 59 tuba, one less on the wire.
    assert (band["Accordion"].program, band["Tuba"].program) == (21, 58)
    assert len({band[name].channels for name in band}) == len(band)
    assert band["Tenor banjo"].pan < 64 < band["Accordion"].pan
    assert [note.start_s for note in band["Accordion"].notes] == pytest.approx([0.5] * 3)


def test_a_style_is_told_when_the_tempo_is_not_its_own() -> None:
    made = arranged(tune("| C |", tempo=240), style(FLAT), C_CLOSED)
    assert any("60 to 200" in notice and "faster" in notice for notice in made.notices)
    assert not arranged(tune("| C |", tempo=120), style(FLAT), C_CLOSED).notices


def test_swing_by_tempo_counts_the_beats_of_the_bar_it_is_in() -> None:
    # A tune in 2/2 at 120 halves a minute goes at 240 quarters: 1 + 2.5 · (300 - 240) / 180.
    eighths = pattern(WHOLE, *((f"{n}/8", "ring", "down", "low1") for n in range(8)))
    made = arranged(tune("| C |", "2/2"), style(eighths, "2/2", swing_by_tempo=True), C_CLOSED)
    starts = [note.start_s for note in player(performed(made))]
    long, short = starts[1] - starts[0], starts[2] - starts[1]
    assert long / short == pytest.approx(1 + 2.5 * 60 / 180)
