"""Rules of what is played, each told a second time here and tried on all small cases: the low
strings, loudness, the clock, a row of performances, tuning."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction

import pytest
from hand_made import BANJO, GUITAR, UKULELE, arrangement, played_bars, shape
from played import FLAT, arranged, pattern, performed, style, tune

from accomp.harmony import parse_chord
from accomp.neck import Instrument
from accomp.rhythm import Pattern, Stroke, jitter
from accomp.rhythm.drift import spread_factor, straying, uneven
from accomp.rhythm.passage import Ending
from accomp.rhythm.stroke import StrokeDirection, spread_ms
from accomp.score.arrangement import Arrangement
from accomp.score.clock import Clock, counted_in
from accomp.score.course import addresses
from accomp.score.join import Cue, Segment, join
from accomp.score.low_strings import grounded, low_string, low_strings
from accomp.score.performance import (
    KeyMark,
    MeterMark,
    Note,
    Performance,
    TempoMark,
    TextMark,
    mirrored,
)
from accomp.score.shape import shape_db, velocity_at
from accomp.score.strings import hits, string_channels
from accomp.score.tuning import tuning_performance
from accomp.time import METERS, Meter, Span


def rows(instrument: Instrument, symbol: str, frets: int) -> list[tuple[object, list[int], list]]:
    """Shapes of a chord on four strings (any fret up to so many, or silent), the strings that sound
    and how many semitones over the root each is."""
    root = parse_chord(symbol).root.pc
    found = []
    for held in itertools.product([None, *range(frets)], repeat=len(instrument.strings)):
        if held.count(None) == len(held):
            continue
        made = shape(instrument, symbol, " ".join("x" if f is None else str(f) for f in held))
        sounding = [i for i, fret in enumerate(held) if fret is not None]
        over = [(made.pitches[i] - root) % 12 for i in sounding]
        found.append((made, sounding, over))
    return found


# Root, fifth and third (or what stands for it) of a kind of chord, in semitones over the root.
BONES = {
    "C": (0, 7, 4), "Gm7": (0, 7, 3), "F#dim": (0, 6, 3), "Bb7#5": (0, 8, 4),
    "Asus4": (0, 7, 5), "D7b5": (0, 6, 4), "Esus2": (0, 7, 2),
}  # fmt: skip


@pytest.mark.parametrize("symbol", BONES)
def test_the_thumb_side_has_root_and_fifth_in_turn(symbol: str) -> None:
    chord, bones = parse_chord(symbol), BONES[symbol]
    root, fifth, third = bones
    for made, sounding, over in rows(BANJO, symbol, 3):
        low = over[:2]
        for turn in range(3):
            wanted = (root, fifth) if turn % 2 == 0 else (fifth, root)
            place = next((low.index(tone) for tone in wanted if tone in low), None)
            if place is None:
                places = [over.index(t) for t in (root, fifth, third) if t in over]
                place = places[0] if places else 0
            assert low_string(chord, made, sounding, turn) == sounding[place]
            for choice, count in (("low1", 1), ("low2", 2)):
                struck = low_strings(choice, chord, made, sounding, turn)
                assert struck == tuple(sounding[place : place + count])
        ground = next((i for i, tone in enumerate(over) if tone in bones), 0)
        assert grounded(chord, made, sounding) == tuple(sounding[ground:])


@pytest.mark.parametrize(("symbol", "bass"), [("C/E", 4), ("C/D", 2), ("G7/F", 10), ("Am/G", 10)])
def test_a_written_bass_is_struck_or_the_low_strings_left_alone(symbol: str, bass: int) -> None:
    chord = parse_chord(symbol)
    third = 3 if symbol.startswith("Am") else 4
    for made, sounding, over in rows(BANJO, symbol, 3):
        if bass in over:
            place = over.index(bass)
        else:
            above = range(2, len(over)) if len(over) > 2 else range(len(over))
            tones = [over[i] for i in above]
            place = above[next((tones.index(t) for t in (0, 7, third) if t in tones), 0)]
        for turn in (0, 1):
            assert low_string(chord, made, sounding, turn) == sounding[place]
        ground = next((i for i, tone in enumerate(over) if tone in (0, 7, third, bass)), 0)
        assert grounded(chord, made, sounding) == tuple(sounding[ground:])


def test_six_strings_have_three_low_ones() -> None:
    # E minor as 0 2 2 0 0 0: roots on strings 6 and 4, the fifth on 5 (and 2); A on string 5 alone.
    minor, sounding = shape(GUITAR, "Em", "0 2 2 0 0 0"), range(6)
    em = parse_chord("Em")
    assert [low_string(em, minor, sounding, turn) for turn in range(4)] == [0, 1, 0, 1]
    third = shape(GUITAR, "C", "x x 2 0 1 0")  # E G C E: the root only above the low three
    c = parse_chord("C")
    assert [low_string(c, third, [2, 3, 4, 5], turn) for turn in range(2)] == [4, 3]
    over_b = parse_chord("C/B")  # nowhere: the low three are left alone
    assert low_string(over_b, third, [2, 3, 4, 5], 0) == 5
    assert low_string(over_b, shape(GUITAR, "C", "x x 2 0 1 x"), [2, 3, 4], 0) == 4


# Loudness


def loudness(*sections: tuple[str, int, int], force: float = 6.0, ritard: int = 0) -> list[float]:
    bars = played_bars(*sections)
    made = style(FLAT, jitter_force=force, ending=Ending(ritard=ritard))
    whole = arrangement([("F", "0 2 3 3")] * len(bars))
    named = zip(whole.bars, bars, addresses(bars), strict=True)
    every = [replace(old, bar=bar, address=name, style=made) for old, bar, name in named]
    return [round(db, 2) for db in shape_db(every)]


# The arch over eight bars in dB, 1.2 sin(pi (n + 1/2) / 8), less the 1.4 that all bars are softer.
ARCH = [-1.17, -0.73, -0.4, -0.22, -0.22, -0.4, -0.73, -1.17]


def near(found: list[float], expected: list[float]) -> bool:
    return found == pytest.approx(expected, abs=0.011)


def test_an_eight_is_an_arch_and_its_answer_is_louder() -> None:
    found = loudness(("A", 1, 17), ("B", 1, 1))
    assert near(found[:8], ARCH)
    assert near(found[8:16], [db + 1.6 for db in ARCH])
    assert near(found[16:], [ARCH[0], ARCH[0]])
    assert near(loudness(("A", 1, 2), ("B", 1, 1), ("A", 1, 2))[3:], [db + 1.6 for db in ARCH[:2]])
    assert near(loudness(("A", 1, 2), ("A", 2, 2))[2:], [db + 0.8 for db in ARCH[:2]])


def test_each_chorus_is_louder_up_to_the_third() -> None:
    found = loudness(*(("A", chorus, 1) for chorus in range(1, 6)))
    assert near(found, [ARCH[0] + growth for growth in (0, 0.8, 1.6, 1.6, 1.6)])


def test_the_end_of_eight_bars_and_more_grows_and_falls_with_the_tempo() -> None:
    growing = [0, 0, 0, 0, 0.4, 0.8, 1.2]
    assert near(loudness(("A", 1, 8)), [a + b for a, b in zip(ARCH, [*growing, 1.2], strict=True)])
    slower = loudness(("A", 1, 8), ritard=1)
    assert near(slower, [a + b for a, b in zip(ARCH, [*growing, -1.5], strict=True)])
    assert near(loudness(("A", 1, 7)), ARCH[:7])  # in a short section is no room
    assert near(loudness(("A", 1, 8), force=3.0)[:4], [db / 2 for db in ARCH[:4]])
    assert loudness(("A", 1, 8), force=9.0) == loudness(("A", 1, 8))
    assert shape_db([]) == ()


def test_a_bar_without_a_place_is_the_first_of_its_kind() -> None:
    whole = arrangement([("F", "0 2 3 3")])
    loose = style(FLAT, jitter_force=6.0)
    for address in ("", "1", "x/y", "A/x/0", "5"):
        db = shape_db([replace(whole.bars[0], address=address, style=loose)])
        assert near([*db], ARCH[:1])


def test_twelve_decibels_double_the_velocity() -> None:
    assert velocity_at(40.0, 40.0) == pytest.approx(400.0)
    assert velocity_at(40.0, 0.0) == 40.0
    assert velocity_at(40.0, 12.04) == pytest.approx(80.0, rel=1e-3)


# The clock


def test_a_count_in_by_the_beat_leaves_room_for_the_pickup() -> None:
    for name, count, eighths in itertools.product(METERS, range(4), range(12)):
        meter, pickup = Meter.parse(name), Fraction(eighths, 8)
        if pickup >= meter.bar:
            continue
        bars = count + (1 if count and pickup > meter.bar / 2 else 0)
        if count == 0 and pickup:
            bars = 1
        found = counted_in(meter, pickup, count)
        assert found.length == bars * meter.bar
        clicks, now = [], Fraction(0)
        while count and now < found.length - pickup:
            clicks.append((now, now % meter.bar == 0))
            now += meter.beat
        assert list(found.clicks) == clicks


def slowing(ritard: int, slow_to: float = 0.5, meter: str = "4/4", bars: int = 3) -> Arrangement:
    made = arrangement([("F", "0 2 3 3")] * bars, (), meter=meter, tempo=120.0)
    return replace(made, ritard=ritard, slow_to=slow_to)


def test_the_tempo_falls_in_a_straight_line_beat_by_beat() -> None:
    clock = Clock(slowing(2), Fraction(1))
    # Eight beats over which the tempo falls to half: 31/32, 29/32 ... 17/32 of itself.
    tempos = [1 - (2 * beat + 1) / 32 for beat in range(8)]
    moments = list(itertools.accumulate([0.5 / t for t in tempos], initial=4.0))
    for beat, at_s in enumerate(moments):
        assert clock(Fraction(1) + Fraction(beat, 4)) == pytest.approx(at_s)
    assert clock(Fraction(9, 8)) == pytest.approx(4.0 + 0.25 / tempos[0])
    assert clock(Fraction(1, 2)) == pytest.approx(3.0)
    assert clock(Fraction(-1, 4)) == pytest.approx(1.5)  # a pickup
    marks = [(mark.start_s, mark.quarter_s) for mark in clock.tempos()]
    starts, quarters = [0.0, *moments[:-1]], [0.5, *(0.5 / t for t in tempos)]
    assert [mark[0] for mark in marks] == pytest.approx(starts)
    assert [mark[1] for mark in marks] == pytest.approx(quarters)


def test_a_tune_that_slows_from_its_first_bar() -> None:
    for lead, count_in_s in ((Fraction(0), 0.0), (Fraction(1), 2.0)):
        clock = Clock(slowing(1, bars=1), lead)
        assert clock(Fraction(0)) == pytest.approx(count_in_s)
        assert clock(Fraction(1, 4)) == pytest.approx(count_in_s + 0.5 / (15 / 16))
        assert clock.tempos()[0] == TempoMark(0.0, 0.5)
        assert clock.tempos()[1].start_s == pytest.approx(count_in_s + 0.5 / (15 / 16))
    even = Clock(slowing(0), Fraction(2))
    assert even.tempos() == (TempoMark(0.0, 0.5),)
    assert even(Fraction(3)) == pytest.approx(10.0)
    waltz = Clock(slowing(1, 0.7, "6/8", 1), Fraction(0))  # two beats of a dotted quarter
    ends = 0.5 / (1 - 0.3 / 4), 0.5 / (1 - 0.3 * 3 / 4)
    assert waltz(Fraction(3, 4)) == pytest.approx(sum(ends))


# Several performances in a row


def short_one(title: str, key: str = "C", meter: str = "4/4", bars: str = "| C |") -> Performance:
    length = Meter.parse(meter).bar
    one = pattern(length, ("0", "ring", "down", "all"))
    return performed(arranged(tune(bars, meter, key=key), style(one, meter), "0 0 2 3"), 1)


def test_performances_in_a_row_have_their_marks_and_gaps() -> None:
    first, second = short_one("a"), short_one("b", "F", "3/4")
    whole, cues = join("Row", [Segment("slow", first, 1.5), Segment("fast", second, 9.0)])
    assert cues == (Cue(0.0, "slow"), Cue(5.5, "fast"))
    assert whole.markers == (TextMark(0.0, "slow"), TextMark(5.5, "fast"))
    assert whole.end_s == pytest.approx(5.5 + second.end_s)
    assert whole.meters == (MeterMark(0.0, 4, 4), MeterMark(5.5, 3, 4))
    assert whole.keys == (KeyMark(0.0, "C"), KeyMark(5.5, "F"))
    assert whole.tempos == (TempoMark(0.0, 0.5), TempoMark(5.5, 0.5))
    assert [mark.start_s for mark in whole.chords] == [2.0, 7.0]
    assert [track.name for track in whole.tracks] == ["Tenor banjo", "Count-in"]
    for track, one, other in zip(whole.tracks, first.tracks, second.tracks, strict=True):
        later = [replace(n, start_s=n.start_s + 5.5, end_s=n.end_s + 5.5) for n in other.notes]
        assert track.notes == (*one.notes, *later)
    with pytest.raises(ValueError, match=r"^nothing to join$"):
        join("Row", [])


def test_open_strings_one_by_one() -> None:
    made = tuning_performance(GUITAR)
    assert made.title == "Tuning: Guitar"
    assert [(mark.start_s, mark.text) for mark in made.markers] == [
        (0.0, "6th string: E2"), (6.0, "5th string: A2"), (12.0, "4th string: D3"),
        (18.0, "3rd string: G3"), (24.0, "2nd string: B3"), (30.0, "1st string: E4"),
    ]  # fmt: skip
    (track,) = made.tracks
    assert (track.program, track.channels, track.role) == (25, (0, 1, 2, 3, 4, 5), "player")
    expected = [
        Note(6.0 * i + 2.0 * n, 6.0 * i + 2.0 * n + 2.0, pitch, 80, i)
        for i, pitch in enumerate((40, 45, 50, 55, 59, 64))
        for n in range(3)
    ]
    assert list(track.notes) == expected
    assert (made.end_s, made.tempos, made.meters) == (
        36.0, (TempoMark(0.0, 0.5),), (MeterMark(0.0, 4, 4),),
    )  # fmt: skip
    assert (made.keys, made.chords) == ((KeyMark(0.0, "C"),), ())
    assert tuning_performance(UKULELE).markers[0].text == "4th string: G4"


def test_no_string_has_a_channel_of_the_drums_or_of_the_first_players() -> None:
    assert string_channels(16) == (0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 13, 14, 15)
    assert string_channels(4) == (0, 1, 2, 3)


def test_left_and_right_exchanged() -> None:
    one = short_one("a")
    for pan, other in ((0, 127), (1, 127), (41, 87), (64, 64), (127, 1)):
        turned = mirrored(replace(one, tracks=(replace(one.tracks[0], pan=pan),)))
        assert [track.pan for track in turned.tracks] == [other]
        assert turned.tracks[0].notes == one.tracks[0].notes


# A hand that strays


def test_a_stroke_of_a_loose_hand_is_late_louder_and_uneven_by_its_names() -> None:
    hand = pattern(Fraction(1), ("0", "ring", "down", "all"), ("1/4", "ring", "up", "all"),
                   ("1/2", "ring", "down", "low1"), ("3/4", "ring", "up", "high2"))  # fmt: skip
    loose = style(hand, jitter_ms=12.0, jitter_force=6.0)
    made = replace(arranged(tune("| C | / |"), loose, "0 0 2 3"), seed=5)
    clock = Clock(made, Fraction(0))
    for bar in made.bars:
        for strum in bar.strums:
            (found,) = hits(strum, bar, clock, 2.0, 120.0, 5)
            moment = strum.span.start - bar.span.start
            due_s = clock(strum.span.start)
            late_s = 0.012 * straying(5, "strum", bar.address, moment, Fraction(1))
            late_s = max(late_s, -due_s, -0.5 / 4)
            names = ("strum", bar.address, moment)
            assert found.start_s == pytest.approx(due_s + late_s)
            assert found.length_s == pytest.approx(0.5 - max(late_s, 0.0))
            assert found.stray == pytest.approx(6.0 * jitter(5, *names, "force"))
            number = len(strum.strings)
            spread_s = spread_ms("plain", 120, number) / 1000
            if number > 1:
                spread_s *= spread_factor(up=strum.direction == "up", seed=5, names=names)
                assert found.met == pytest.approx(uneven(number, 5, names))
            assert found.spread_s == pytest.approx(min(spread_s, found.length_s / 3))
            assert bool(found.met) == (number > 1)


def test_a_tremolo_of_a_loose_hand_strays_stroke_by_stroke() -> None:
    whole = Pattern(
        Fraction(1),
        (
            Stroke(
                Span(Fraction(0), Fraction(1)), direction=StrokeDirection.DOWN, technique="tremolo"
            ),
        ),
    )
    made = arranged(tune("| C |"), style(whole, jitter_ms=9.0, jitter_force=6.0), "0 0 2 3")
    (bar,) = made.bars
    found = hits(bar.strums[0], bar, Clock(made, Fraction(0)), 2.0, 120.0, 3)
    assert len(found) == 24  # twelve a second
    first_s = found[0].start_s
    for number, one in enumerate(found):
        step_s = one.length_s
        assert one.start_s == pytest.approx(first_s + number * step_s)
        assert one.strum.direction == ("up" if number % 2 else "down")
        assert one.strum.strings == ((3, 2, 1, 0) if number % 2 else (0, 1, 2, 3))
        assert one.strum.force == ("light" if number else "plain")
        names = ("strum", bar.address, Fraction(0), *([number] if number else []), "force")
        assert one.stray == pytest.approx(6.0 * jitter(3, *names))
        assert one.spread_s <= step_s / 3 + 1e-9
    assert found[-1].start_s + found[-1].length_s == pytest.approx(2.0)
