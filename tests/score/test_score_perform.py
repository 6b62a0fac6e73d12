"""Perform: when strings begin and stop, swing, count-in, marks."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction

import pytest
from played import BASS, FLAT, arranged, pattern, performed, player, style, tune

from accomp.rhythm import BandNote, BandPattern
from accomp.score.clock import counted_in
from accomp.score.performance import Note
from accomp.time import METERS, Meter

C_OPEN, F, C_CLOSED, G7 = "0 0 2 3", "0 2 3 3", "4 5 5 7", "2 0 3 2"
WHOLE = Fraction(1)


def by_string(notes: tuple[Note, ...]) -> dict[int, list[Note]]:
    strings: dict[int, list[Note]] = {}
    for note in notes:
        strings.setdefault(note.channel, []).append(note)
    return strings


def test_a_string_rings_until_it_is_struck_again() -> None:
    notes = player(performed(arranged(tune("| C |"), style(FLAT), C_OPEN)))
    for string in by_string(notes).values():
        assert len(string) == 4
        for note, following in itertools.pairwise(string):
            assert note.end_s == pytest.approx(following.start_s)
        assert string[-1].end_s == pytest.approx(2.0)  # a bar of 4/4 at 120


def test_first_string_of_a_down_stroke_sounds_on_the_beat_and_the_rest_follow() -> None:
    notes = player(performed(arranged(tune("| C |"), style(FLAT), C_OPEN)))
    first = sorted(notes, key=lambda note: note.start_s)[:4]
    assert first[0].start_s == 0.0
    assert [note.pitch for note in first] == [48, 55, 64, 72]
    gaps = [b.start_s - a.start_s for a, b in itertools.pairwise(first)]
    assert all(0.001 < gap < 0.015 for gap in gaps)


def test_an_up_stroke_meets_the_strings_the_other_way() -> None:
    up = pattern(WHOLE, ("0", "ring", "up", "all"))
    notes = player(performed(arranged(tune("| C |"), style(up), C_OPEN)))
    assert [note.pitch for note in sorted(notes, key=lambda n: n.start_s)] == [72, 64, 55, 48]


def test_choking_stops_fretted_strings_and_lets_open_ones_ring() -> None:
    choked = pattern(WHOLE, ("0", "choked", "down", "all"))
    notes = player(performed(arranged(tune("| C |"), style(choked), C_OPEN)))
    ends = {note.pitch: note.end_s for note in notes}
    assert ends[48] == ends[55] == pytest.approx(2.0)  # open strings to the end
    assert ends[64] == ends[72] < 0.2  # fretted strings stop
    assert all(note.bank == 1 for note in notes)


def test_a_closed_shape_chokes_whole() -> None:
    choked = pattern(WHOLE, ("0", "choked", "down", "all"), ("1/2", "choked", "down", "all"))
    notes = player(performed(arranged(tune("| C |"), style(choked), C_CLOSED)))
    assert all(note.end_s - note.start_s < 0.2 for note in notes)


def test_a_dead_stroke_is_a_click() -> None:
    dead = pattern(WHOLE, ("0", "dead", "down", "all"))
    notes = player(performed(arranged(tune("| C |"), style(dead), C_OPEN)))
    assert len(notes) == 4
    assert all(note.end_s - note.start_s <= 0.0401 and note.bank == 2 for note in notes)


def test_the_hand_that_moves_stops_a_string_and_one_that_stays_does_not() -> None:
    # The low string alone is struck on 3, when F is already held: the others ring or stop.
    strum = pattern(WHOLE, ("0", "ring", "down", "all"), ("1/2", "ring", "down", "low1"))
    notes = player(performed(arranged(tune("| C / F / |"), style(strum), C_OPEN, F)))
    strings = by_string(notes)
    fourth, third, second, first = (strings[channel] for channel in sorted(strings))
    assert len(fourth) == 2
    assert third[0].end_s == pytest.approx(1.0)  # 0 becomes 2: the finger stops it
    assert second[0].end_s == pytest.approx(1.0)  # 2 becomes 3
    assert first[0].end_s == pytest.approx(2.0)  # 3 stays: it rings on


def test_nobody_plays_in_nc() -> None:
    performance = performed(arranged(tune("| C | N.C. | C |"), style(FLAT, bass=BASS), C_OPEN))
    for track in performance.tracks:
        for note in track.notes:
            assert not 2.0 <= note.start_s < 4.0, track.name
            assert note.end_s <= 2.0 + 1e-9 or note.start_s >= 4.0, track.name


def test_swing_moves_the_second_quaver_and_nothing_else() -> None:
    eighths = pattern(WHOLE, *((f"{n}/8", "ring", "down", "low1") for n in range(8)))
    straight = player(performed(arranged(tune("| C |"), style(eighths), C_OPEN)))
    swung = player(performed(arranged(tune("| C |"), style(eighths, swing=2.0), C_OPEN)))
    for index, (a, b) in enumerate(zip(straight, swung, strict=True)):
        late = 0.5 * (2 / 3 - 1 / 2) if index % 2 else 0.0  # a quarter lasts half a second
        assert b.start_s - a.start_s == pytest.approx(late)


def test_swing_is_applied_to_all_players_alike() -> None:
    places = [Fraction(n, 8) for n in range(8)]
    eighths = pattern(WHOLE, *((str(place), "ring", "down", "low1") for place in places))

    def part(what: str, *player: str) -> BandPattern:
        return BandPattern(WHOLE, tuple(BandNote(place, what) for place in places), *player)

    swinging = style(
        eighths, swing=2.0, bass=part("root"), drums=part("hat"), comping=part("chord", "piano")
    )
    tracks = performed(arranged(tune("| C |"), swinging, C_OPEN)).tracks
    heard = {track.name: sorted({note.start_s for note in track.notes}) for track in tracks}
    assert len(heard) == 4
    # A quarter lasts half a second; its second quaver comes after two thirds of it.
    swung = [0.5 * (n // 2) + (1 / 3 if n % 2 else 0.0) for n in range(8)]
    for name, starts in heard.items():
        assert starts == pytest.approx(swung), name


@pytest.mark.parametrize("meter", METERS)
def test_count_in_gives_tempo_and_meter(meter: str) -> None:
    time = Meter.parse(meter)
    one = pattern(time.bar, ("0", "ring", "down", "all"))
    performance = performed(arranged(tune("| C |", meter), style(one, meter), C_OPEN), count_in=2)
    clicks = next(track.notes for track in performance.tracks if track.role == "click")
    assert len(clicks) == 2 * time.beats
    starts = [note.start_s for note in clicks]
    assert starts == pytest.approx([beat * 0.5 for beat in range(2 * time.beats)])
    assert [note.pitch == 76 for note in clicks] == [
        beat % time.beats == 0 for beat in range(2 * time.beats)
    ]
    assert player(performance)[0].start_s == pytest.approx(2 * time.beats * 0.5)


def test_a_pickup_lies_in_the_last_bar_of_the_count_in() -> None:
    four = Meter.parse("4/4")
    short = counted_in(four, Fraction(1, 4), 1)
    assert (short.length, len(short.clicks)) == (1, 3)
    half = counted_in(four, Fraction(1, 2), 1)  # half a bar of clicks is enough
    assert (half.length, len(half.clicks)) == (1, 2)
    long = counted_in(four, Fraction(3, 4), 1)
    assert (long.length, len(long.clicks)) == (2, 5)
    assert counted_in(four, Fraction(1, 4), 0).length == 1
    assert counted_in(four, Fraction(0), 0).length == 0


def test_sections_chords_meters_and_keys_are_marked() -> None:
    performance = performed(
        arranged(tune("| C | F / C / |"), style(FLAT), C_OPEN, F, C_OPEN, choruses=2), count_in=1
    )
    assert [(m.start_s, m.text) for m in performance.markers] == [
        (0.0, "Count-in"),
        (2.0, "Chorus 1: A"),
        (6.0, "Chorus 2: A"),
    ]
    assert [m.text for m in performance.chords] == ["C", "F", "C"] * 2
    assert [(m.count, m.unit) for m in performance.meters] == [(4, 4)]
    assert [m.key for m in performance.keys] == ["C"]
    assert performance.end_s == pytest.approx(10.0)


def test_a_fast_stroke_is_never_spread_over_the_next() -> None:
    fast = pattern(WHOLE, *((f"{n}/16", "choked", "down", "all") for n in range(16)))
    notes = player(performed(replace(arranged(tune("| C |"), style(fast), C_CLOSED), tempo=300.0)))
    for string in by_string(notes).values():
        for note, following in itertools.pairwise(string):
            assert note.start_s < note.end_s <= following.start_s
