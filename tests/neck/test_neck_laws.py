"""Laws that hold for any tune: sliding, more shapes, independent check of every shape used."""

import random
from dataclasses import replace

import neck_shapes
import pytest
from neck_players import MEDIUM, TEACHER, TENOR
from neck_shapes import fingering_holds, place, stopped_pairs

from accomp.errors import NoShapeError
from accomp.harmony import Key, parse_chord, transpose_chord
from accomp.harmony.table import chord_table
from accomp.neck import (
    CostModel,
    Neck,
    Player,
    Wish,
    default_weights,
    find_instrument,
    instrument_names,
)

ROOTS = "C C# Db D Eb E F F# Gb G Ab A Bb B".split()
EVERYDAY = ["", "", "", "m", "7", "7", "7", "m7", "maj7", "6", "dim7", "m7b5", "9", "+", "sus4"]
VOCABULARY = sorted({row.spellings[0] for row in chord_table().rows})
HEIGHT_AND_MM = ("height", "stretch", "strain", "shift")


def planned(sequence, home, player=TEACHER, **wish):
    return Neck(player, tuple(sequence), home).positions(Wish(**wish))


def tune(draw, symbols, length, suffixes):
    """A cycle of chords in which no chord follows itself, with so many different symbols."""
    pool = []
    while len(pool) < symbols:
        symbol = draw.choice(ROOTS) + draw.choice(suffixes)
        if symbol not in pool:
            pool.append(symbol)
    sequence = list(pool)
    while len(pool) > 1 and len(sequence) < length:
        sequence.append(draw.choice([s for s in pool if s != sequence[-1]]))
    if len(pool) > 1 and sequence[0] == sequence[-1]:
        sequence.pop()
    return [parse_chord(symbol) for symbol in sequence]


def test_a_closed_plan_slides_unchanged_while_comfort_allows():
    draw = random.Random(11)
    slides = 0
    up = Key.parse("C").interval_to(Key.parse("Db"))
    for _ in range(25):
        sequence = tune(draw, 4, 8, EVERYDAY)
        moved = [transpose_chord(chord, up) for chord in sequence]
        costs = CostModel(TENOR, MEDIUM, default_weights())
        for plan in planned(sequence, sequence[0], closed=True):
            if plan.notices or plan.frets[1] + 1 > TENOR.frets:
                continue
            if any(known is None for known in plan.known):
                continue  # an inversion: these are tested below
            if not all(comfort_stays(known) for known in plan.known):
                continue
            if not all(
                known in TEACHER.vocabulary.shapes(chord)
                for chord, known in zip(sequence, plan.known, strict=True)
            ):
                continue  # fewest moves stood in for the table, which depends on the place
            slid = [tuple(fret + 1 for fret in shape.frets) for shape in plan.path]
            found = {}
            for chord, frets in zip(moved, slid, strict=True):
                known = {one.shape.frets: one for one in TEACHER.vocabulary.shapes(chord)}
                assert frets in known, (chord, frets)
                found[chord] = known[frets].shape
            for chord, low, shape in zip(moved, plan.path, sequence, strict=True):
                high = found[chord]
                assert high.fingers == low.fingers
                assert high.degrees == low.degrees
                before = aside(costs.shape_terms(low, shape))
                assert aside(costs.shape_terms(high, chord)) == pytest.approx(before)
            for index, chord in enumerate(moved):
                following = moved[(index + 1) % len(moved)]
                low, low_next = plan.path[index], plan.path[(index + 1) % len(moved)]
                before = aside(costs.change_terms(low, low_next))
                after = aside(costs.change_terms(found[chord], found[following]))
                assert after == pytest.approx(before)
            slides += 1
    assert slides >= 25


def comfort_stays(known):
    """Whether a shape is comfortable, or its easier form needed, here and a fret higher alike.

    The shape that it is made from has to fit on the neck there too.
    """
    wide = known.derivation.wide
    if max(*wide, *known.derivation.frets) >= TENOR.frets:
        return False
    span = TENOR.fret_mm(max(wide) + 1) - TENOR.fret_mm(min(wide) + 1)
    comfortable = known.shape.stretch_mm <= MEDIUM.comfort_mm
    return (span > MEDIUM.comfort_mm) == bool(known.derivation.eased) and comfortable


def aside(terms):
    """Cost terms without height and millimetres; mud depends on pitch and rises with none."""
    return {name: value for name, value in terms.items() if name not in (*HEIGHT_AND_MM, "mud")}


def test_sliding_a_whole_tune_slides_its_closed_plan():
    # With height and millimetres for nothing, the same plan n frets up is best again.
    weightless = default_weights().changed(dict.fromkeys(HEIGHT_AND_MM, 0.0))
    sequence = [parse_chord(symbol) for symbol in "C G7 C C7 F C G7 C".split()]
    base = {}
    for name in ("C", "Db", "D", "Eb"):
        interval = Key.parse("C").interval_to(Key.parse(name))
        moved = [transpose_chord(chord, interval) for chord in sequence]
        player = replace(TEACHER, weights=weightless)
        for plan in planned(moved, moved[0], player, closed=True):
            if plan.name != "fifth-top":
                continue
            low = min(min(shape.frets) for shape in plan.path)
            shapes = [tuple(fret - low for fret in shape.frets) for shape in plan.path]
            fingers = [shape.fingers for shape in plan.path]
            base.setdefault("shapes", (shapes, fingers))
            assert (shapes, fingers) == base["shapes"]
            assert aside(plan.terms) == pytest.approx(base.setdefault("terms", aside(plan.terms)))
    assert base


PLACELESS = dict.fromkeys((*HEIGHT_AND_MM, "mud", "learning"), 0.0)


@pytest.mark.slow
@pytest.mark.parametrize("vocabulary", ["inversions", "all"])
def test_transposing_a_closed_plan_leaves_its_shapes_as_they_were(vocabulary):
    """Where both plans are comfortable; with what depends on the place for nothing.

    Other shapes come only where the lower key had no room for them at the nut, or they were wide
    there. Learning is for nothing, because what can be made from a shape that does not fit on the
    neck is not known there.
    """
    draw = random.Random(21)
    same = other = 0
    for number in range(40):
        names = ("tenor-banjo", "ukulele", "mandolin", "plectrum-banjo")
        one = find_instrument(names[number % 4])
        player = replace(Player.on(one, MEDIUM), weights=default_weights().changed(PLACELESS))
        sequence = tune(draw, draw.randint(3, 6), 10, EVERYDAY)
        name, up = draw.choice([("Db", 1), ("D", 2), ("Eb", 3)])
        interval = Key.parse("C").interval_to(Key.parse(name))
        moved = [transpose_chord(chord, interval) for chord in sequence]
        low, high = (
            {
                plan.path[0].top_pitch: plan
                for plan in planned(chords, chords[0], player, closed=True, vocabulary=vocabulary)
            }
            for chords in (sequence, moved)
        )
        for top, plan in low.items():
            there = high.get(top + up)
            if there is None or max(plan.frets[1] + up, there.frets[1]) > one.frets - 3:
                continue  # where the neck ends, it lacks what stands beside a shape further down
            if plan.notices or there.notices or any(plan.wide) or any(there.wide):
                continue
            back = [tuple(fret - up for fret in shape.frets) for shape in there.path]
            if back == [shape.frets for shape in plan.path]:
                same += 1
                continue
            other += 1
            assert any(
                min(frets) < 1
                or one.fret_mm(max(frets)) - one.fret_mm(min(frets)) > MEDIUM.comfort_mm
                for frets in back
            ), (one.name, plan.name, str(moved))
    assert same > 3 * other > 0


def check_shape(shape, chord, one, hand, mute=False):
    """Tones, reach and fingers of a shape, from the definitions alone."""
    neck = neck_shapes.Neck(
        one.open_pitches, one.frets, one.scale_mm, 4, hand.greatest_mm, hand.neighbour
    )
    sounding = [s for s, fret in enumerate(shape.frets) if fret is not None]
    assert len(sounding) >= 4
    assert sounding == list(range(sounding[0], sounding[-1] + 1))
    pitches = [neck.opens[s] + shape.frets[s] for s in sounding]
    tones = {tone.pc: tone.degree for tone in chord.tones}
    assert [tones[pitch % 12] for pitch in pitches] == [shape.degrees[s] for s in sounding]
    assert {tone.pc for tone in chord.tones if tone.essential} <= {p % 12 for p in pitches}
    assert all(0 <= shape.frets[s] <= one.frets for s in sounding)
    for fret, finger in zip(shape.frets, shape.fingers, strict=True):
        assert (1 <= finger <= 4) if fret else finger == 0
    assert fingering_holds(neck, stopped_pairs(neck, shape.frets), shape.fingers)
    fretted = [fret for fret in shape.frets if fret]
    stretch = place(neck, max(fretted)) - place(neck, min(fretted)) if fretted else 0
    assert shape.stretch_mm == pytest.approx(stretch)
    assert shape.top_pitch == max(pitches)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("tunes", "seed"), [(60, 13), pytest.param(200, 17, marks=pytest.mark.long)]
)
def test_every_shape_used_on_random_tunes_passes_an_independent_check(tunes, seed):
    draw = random.Random(seed)
    names = instrument_names()
    shapes, refused = 0, []
    for number in range(tunes):
        one = find_instrument(names[number % len(names)])
        sequence = tune(draw, draw.randint(1, 5), draw.randint(5, 10), VOCABULARY)
        try:
            plans = planned(
                sequence,
                sequence[-1],
                Player.on(one, MEDIUM),
                one_shape=draw.choice([True, False]),
            )
        except NoShapeError as error:
            refused.append((sequence, str(error)))
            continue
        for plan in plans:
            for chord, shape in zip(sequence, plan.path, strict=True):
                check_shape(shape, chord, one, MEDIUM)
                shapes += 1
    assert shapes > 20 * tunes
    assert all(any(str(chord) in text for chord in sequence) for sequence, text in refused)


@pytest.mark.long
def test_every_shape_of_plans_from_all_shapes_passes_an_independent_check():
    draw = random.Random(14)
    for number in range(48):
        one = find_instrument(instrument_names()[number % len(instrument_names())])
        sequence = tune(draw, 4, 8, VOCABULARY)
        try:
            plans = planned(sequence, sequence[-1], Player.on(one, MEDIUM), vocabulary="all")
        except NoShapeError:
            continue
        for plan in plans:
            for chord, shape in zip(sequence, plan.path, strict=True):
                check_shape(shape, chord, one, MEDIUM)


def proved_and_gaps(count, vocabulary, seed):
    draw = random.Random(seed)
    proved = total = 0
    for _ in range(count):
        sequence = tune(draw, 20, 40, EVERYDAY)
        for plan in planned(sequence, sequence[-1], vocabulary=vocabulary):
            total += 1
            proved += plan.proved
            assert plan.gap <= 0.02
            assert plan.proved or any("before the proof" in notice for notice in plan.notices)
    return proved, total


@pytest.mark.long
def test_tunes_of_twenty_chords_are_proved():
    proved, total = proved_and_gaps(50, "inversions", 15)
    assert proved >= 0.9 * total


@pytest.mark.long
def test_tunes_of_twenty_chords_are_proved_with_all_shapes_too():
    proved, total = proved_and_gaps(50, "all", 16)
    assert proved >= 0.9 * total


def test_a_longer_scale_makes_no_plan_narrower():
    sequence = [parse_chord(symbol) for symbol in "C G7 C C7 F C G7 C".split()]
    short = {plan.name: plan for plan in planned(sequence, sequence[0])}
    longer = planned(sequence, sequence[0], Player.on(replace(TENOR, scale_mm=545.0), MEDIUM))
    for plan in longer:
        if [s.frets for s in plan.path] == [s.frets for s in short[plan.name].path]:
            assert plan.stretch_mm >= short[plan.name].stretch_mm
