"""Amounts of shapes and changes counted a second time, places of known shapes, and whole sentences
about plans, stretches and what to learn next."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import pairwise, product

import pytest
from neck_players import MEDIUM, TENOR

from accomp.errors import InputError, NoShapeError
from accomp.harmony import parse_chord
from accomp.neck import (
    Neck,
    Player,
    Wish,
    default_weights,
    find_instrument,
    find_repertoire,
    playable_shapes,
    shape_at,
)
from accomp.neck.chord_shapes import chord_shapes
from accomp.neck.cost import change_amounts, shape_amounts, shift_frets, shift_mm, tie_break
from accomp.neck.describe import _number
from accomp.neck.learn_next import NextFamily
from accomp.neck.missing import no_position, smallest_reach
from accomp.neck.naming import read_frets
from accomp.neck.plan import FoundPath, Plan, make_plan, with_stretches
from accomp.neck.pools import Area, Candidate, Slot
from accomp.neck.propose import propose
from accomp.neck.repertoire import RepertoireShape, read_repertoire
from accomp.neck.shape import another_triad, grip_of
from accomp.neck.weights import CHANGE_TERMS, SHAPE_TERMS

GUITAR = find_instrument("guitar")
UKULELE = find_instrument("ukulele")


def sample(instrument, symbol: str, count: int):
    found = playable_shapes(parse_chord(symbol), instrument, MEDIUM.with_reach(120), mute=True)
    return random.Random(symbol).sample(found, min(count, len(found)))


def counted(shape, symbol: str, instrument, *, choked: bool, rings: bool) -> dict[str, float]:
    """The amounts from the words of `data/costs.toml`, string by string."""
    chord = parse_chord(symbol)
    root = chord.root.pc
    sounding = [(p, d) for p, d in zip(shape.pitches, shape.degrees, strict=True) if p is not None]
    pitches = sorted(p for p, _ in sounding)
    degrees = [d for _, d in sounding]
    stopped = [f for f in shape.frets if f]
    fingers = {one for one in shape.fingers if one}
    on = {one: [i for i, f in enumerate(shape.fingers) if f == one] for one in fingers}
    third_or_seventh = ("b3", "3", "bb7", "b7", "7")
    twice = sum(degrees.count(d) - 1 for d in third_or_seventh if d in degrees)
    pcs = {p % 12 for p in pitches}
    triads = [{r, (r + t) % 12, (r + 7) % 12} for r in range(12) if r != root for t in (3, 4)]
    lowest = pitches[0]
    inverted = 0
    if lowest < 48 and lowest % 12 not in {root, chord.bass.pc if chord.bass else root}:
        degree = next(d for p, d in sounding if p == lowest).lstrip("b#")
        inverted = {"5": 0, "3": 1}.get(degree, 4)
    crossed = 0
    for i in range(len(shape.frets) - 1):
        low, high = shape.pitches[i], shape.pitches[i + 1]
        rising = instrument.open_pitches[i] < instrument.open_pitches[i + 1]
        crossed += low is not None and high is not None and rising and low >= high
    gaps = pairwise(pitches)
    bass = chord.bass is not None and chord.bass.pc in {t.pc for t in chord.tones}
    amounts = {
        "stretch": shape.stretch_mm / 10,
        "strain": max(0.0, shape.stretch_mm - MEDIUM.comfort_mm) / 10,
        "fingers": len(fingers),
        "barre": sum(len(strings) > 1 for strings in on.values()),
        "across": sum(max(0, max(s) - min(s) + 1 - 4) for s in on.values()),
        "height": max(0, min(stopped, default=1) - 1),
        "rootless": root not in pcs,
        "another": pcs in triads,
        "fifthless": "5" in {t.degree for t in chord.tones} and "5" not in degrees,
        "doubled": max(0, twice - max(0, len(sounding) - 4)),
        "inverted": inverted,
        "crossed": crossed,
        "mud": sum(max(0.0, (60 - a) / 3 - (b - a)) for a, b in gaps),
        "ringing": shape.frets.count(0) if choked else 0,
        "stopped": len(stopped) if rings else 0,
        "bass": bass and lowest % 12 != chord.bass.pc,
    }
    return {term: float(amount) for term, amount in amounts.items()}


@pytest.mark.parametrize(
    "instrument",
    [TENOR, UKULELE, pytest.param(GUITAR, marks=pytest.mark.slow)],
    ids=lambda one: one.name,
)
def test_amounts_of_many_shapes_counted_again(instrument) -> None:
    for symbol in ("C", "Am7", "G7/F", "F/A", "Bdim7", "Cmaj7", "D9", "E7b5"):
        for shape in sample(instrument, symbol, 25):
            for choked, rings in ((False, False), (True, False), (False, True)):
                found = shape_amounts(
                    shape, parse_chord(symbol), instrument, MEDIUM, choked=choked, rings=rings
                )
                expected = counted(shape, symbol, instrument, choked=choked, rings=rings)
                assert dict(zip(SHAPE_TERMS, found, strict=True)) == pytest.approx(expected)


@pytest.mark.slow
@pytest.mark.parametrize("instrument", [TENOR, GUITAR], ids=lambda one: one.name)
def test_amounts_of_many_changes_counted_again(instrument) -> None:
    shapes = [
        (s, parse_chord(n).root.pc)
        for n in ("C", "C7", "F", "D9")
        for s in sample(instrument, n, 5)
    ]
    for (here, one), (there, other) in product(shapes, repeat=2):
        low = min((f for f in here.frets if f), default=0)
        lower = min((f for f in there.frets if f), default=0)
        frets = lower - low if low and lower else 0
        mm = instrument.fret_mm(lower) - instrument.fret_mm(low) if low and lower else 0.0
        assert (shift_frets(here, there), shift_mm(here, there, instrument)) == (frets, mm)
        high = [
            sorted((p for p in s.pitches if p is not None), reverse=True) for s in (here, there)
        ]
        moving = sum(a != b for a, b in zip(here.frets, there.frets, strict=True))
        found = dict(zip(CHANGE_TERMS, change_amounts(here, there, instrument), strict=True))
        assert found["shift"] == pytest.approx(abs(mm) / 10)
        assert found["top"] == abs(high[0][0] - high[1][0])
        assert found["voices"] == sum(abs(a - b) for a, b in zip(*high, strict=False))
        assert found["line"] == (max(0, moving - 1) if one == other else 0)
    assert tie_break(shapes[0][0]) == pytest.approx(1e-9 * sum(f for f in shapes[0][0].frets if f))


def test_another_triad_is_major_or_minor_on_another_root() -> None:
    for root, third, own in product(range(12), (3, 4), range(12)):
        pcs = {root, (root + third) % 12, (root + 7) % 12}
        assert another_triad(pcs, own) == (own != root)
        assert not another_triad(pcs | {(root + 10) % 12}, own)
        assert not another_triad({root, (root + third) % 12, (root + 6) % 12}, own)
    assert grip_of((None, 3, 5, 4)) == (None, 0, 2, 1)
    assert grip_of((0, 2, 3, 3)) == (0, 2, 3, 3)


# Known shapes along the neck


def test_a_known_shape_wherever_the_neck_has_room() -> None:
    c = parse_chord("C")
    for frets, movable in product(((4, 5, 5, 7), (0, 0, 2, 3), (None, 12, 13, 12)), (True, False)):
        one = RepertoireShape("one", c, frets, movable)
        for root, neck in product(range(12), (7, 12, 17, 19, 24)):
            expected = []
            for by in range(-12, 25):
                moved = tuple(f if f is None else f + by for f in frets)
                real = [f for f in moved if f is not None]
                if (
                    by % 12 == root
                    and min(real) >= 0
                    and max(real) <= neck
                    and (movable or by == 0)
                ):
                    expected.append((by, moved))
            assert list(one.moved_to(root, neck)) == expected, (frets, root, neck)


REPERTOIRE = (
    'title = "Mine"\nstrings = ["C3", "G3", "D4", "A4"]\n[[shape]]\nchord = "{}"\nfrets = "{}"\n'
)


@pytest.mark.parametrize(
    ("chord", "frets", "told"),
    [
        ("C", "0 0 2 4", "0 0 2 4 is not C: fret 4 on string 1 is no tone of it."),
        ("C", "1 0 2 3", "1 0 2 3 is not C: fret 1 on string 4 is no tone of it."),
        ("C", "0 0 x 3", "0 0 x 3 is not C: E is missing."),
        ("C7", "0 0 x 3", "0 0 x 3 is not C7: E and Bb are missing."),
    ],
)
def test_what_is_wrong_with_a_known_shape_in_whole_sentences(tmp_path, chord, frets, told) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(REPERTOIRE.format(chord, frets))
    with pytest.raises(InputError) as caught:
        read_repertoire(path)
    (problem,) = caught.value.problems
    assert (problem.message, problem.found, problem.line) == (told, frets, 5)
    assert problem.hint == "Correct the frets or the chord."
    spelled = " ".join(str(tone.spelling) for tone in parse_chord(chord).tones)
    assert problem.expected == f"tones of {chord}: {spelled}"


def test_shapes_of_one_name_are_numbered_and_written_as_they_are_read(tmp_path) -> None:
    path = tmp_path / "mine.toml"
    one = '[[shape]]\nchord = "C"\nfrets = "0 0 2 3"\n'
    path.write_text(
        REPERTOIRE.format("C", "0 0 2 3") + one + one
        + '[[shape]]\nname = "up"\nchord = "F"\nfrets = "5 5 7 8"\n'
        "movable = false\nnew_elsewhere = true\n"
    )  # fmt: skip
    read = read_repertoire(path)
    assert read.names == ("C 0 0 2 3", "C 0 0 2 3 (2)", "C 0 0 2 3 (3)", "up")
    assert [(s.movable, s.new_elsewhere) for s in read.shapes] == [(True, False)] * 3 + [
        (False, True)
    ]
    written = tmp_path / "written.toml"
    written.write_text(read.text())
    assert read_repertoire(written) == read
    with pytest.raises(InputError) as caught:
        read_repertoire(path, UKULELE)
    assert caught.value.problems[0].message == (
        f"this repertoire is not for {UKULELE.title}, tuned G4 C4 E4 A4."
    )


@pytest.mark.slow
def test_a_proposal_takes_the_least_effort() -> None:
    """For each degree on top twice the frets of stretch and the fingers, then silent strings."""
    for instrument in (TENOR, GUITAR):
        found = propose(instrument, MEDIUM)
        assert found.title == f"Proposed for {instrument.title}"
        chord = parse_chord("C")
        every = [
            s for s in playable_shapes(chord, instrument, MEDIUM)
            if 0 not in s.frets and s.stretch_mm <= MEDIUM.comfort_mm
        ]  # fmt: skip

        def effort(s):
            real = [f for f in s.frets if f]
            ends = max(real) - min(real)
            return 2 * ends + len({f for f in s.fingers if f}), s.frets.count(None), min(real)

        for one in found.shapes:
            shape = shape_at(one.frets, chord, instrument, MEDIUM)
            assert effort(shape) == min(effort(s) for s in every if s.top == shape.top)
        lows = [min(f for f in one.frets if f) for one in found.shapes]
        assert lows == sorted(lows)


# Sentences about plans


def at(symbol: str, frets: str):
    found = shape_at(
        read_frets(frets, 4), parse_chord(symbol), TENOR, MEDIUM.with_reach(150), mute=True
    )
    assert found is not None
    return found


def plan(name: str, *rows: str, wide: tuple[bool, ...] = ()) -> Plan:
    pairs = [row.split(":") for row in rows]
    chords = tuple(parse_chord(symbol) for symbol, _ in pairs)
    path = tuple(at(symbol, frets) for symbol, frets in pairs)
    return Plan(name, path, 12.34, wide=wide or (False,) * len(path), chords=chords)


def test_a_plan_in_one_line() -> None:
    made = plan("root-top", "C:4 5 5 7", "F:5 5 7 8")
    stretch = max(shape.stretch_mm for shape in made.path)
    assert made.facts == (
        f"root-top: frets 4 to 8, closed, widest stretch {stretch:.0f} mm, cost 12.3"
    )
    assert repr(made) == "<Plan 'root-top': frets 4 to 8, 2 shapes, cost 12.3>"
    opened = plan("low", "C:0 0 2 3")
    assert opened.facts.startswith("low: frets 2 to 3, open strings, widest")
    assert (opened.frets, opened.open) == ((2, 3), True)
    bare = Plan("bare", (at("G5", "7 0 0 x"),), 1.0)
    assert bare.frets == (7, 7)


def test_what_is_said_of_wide_shapes() -> None:
    comfort = f"beyond the {MEDIUM.comfort_mm:g} mm that are comfortable; this area has no other."
    wide = plan("a", "C7:4 3 5 7", "Edim:4 3 5 7", "F:0 2 3 3", wide=(True, True, False))
    mm = round(wide.path[0].stretch_mm)
    text = f"a: C7 and Edim 4 3 5 7 is {mm} mm wide, {comfort}"
    easy = replace(plan("b", "C:0 0 2 3"), name="b")
    (alone,) = with_stretches([wide], MEDIUM)
    assert alone.notices == (f"{text} No position of the tune is comfortable throughout.",)
    first, second = with_stretches([wide, easy], MEDIUM)
    assert first.notices == (f"{text} Comfortable throughout: b.",)
    assert second is easy
    (among,) = with_stretches([wide], MEDIUM, among=False)
    assert among.notices == (f"{text} Other positions of the tune may be comfortable throughout.",)
    just = replace(MEDIUM, comfort_mm=wide.path[0].stretch_mm - 0.01)
    (told,) = with_stretches([wide], just)
    length = float(told.notices[0].split(" is ")[1].split(" mm")[0])
    assert length > just.comfort_mm  # it is never told as the comfortable one


def found_path(*rows: str, gap: float = 0.0, family: bool = False) -> FoundPath:
    made = plan("x", *rows)
    path = tuple(
        Candidate(shape, None, 1.0, shape.grip if family else None, 0, 1) for shape in made.path
    )
    return FoundPath(made.chords, path, True, gap)


def test_a_plan_adds_up_its_shapes_its_changes_and_its_learning() -> None:
    costs = Player.on(TENOR, MEDIUM).cost_model()
    rows = ("C:4 5 5 7", "F:5 5 7 8", "C:4 5 5 7")
    way = found_path(*rows, family=True)
    made = make_plan("p", way, costs, [])
    shapes = [one.shape for one in way.path]
    parts = sum(costs.shape(s, c) for s, c in zip(shapes, way.chords, strict=True))
    there_and_back = costs.change(shapes[0], shapes[1]) + costs.change(shapes[1], shapes[2])
    learning = default_weights().learning
    assert made.cost == pytest.approx(parts + there_and_back + 2 * learning)
    assert (made.terms["learning"], len(made.new)) == (2 * learning, 2)
    assert (made.proved, made.gap, made.notices) == (True, 0.0, ())
    none = make_plan("p", found_path(*rows), costs, [])
    assert "learning" not in none.terms
    open_one = make_plan("p", replace(way, gap=made.cost / 10), costs, [])
    assert (open_one.proved, open_one.gap) == (False, pytest.approx(0.1))
    assert open_one.notices == (
        "p: the search stopped before the proof; another plan could be at most 10.0% cheaper.",
    )
    assert make_plan("p", replace(way, gap=made.cost * 3), costs, []).gap == 1.0
    unknown = make_plan("p", way, costs, [parse_chord("F")])
    assert unknown.notices == (
        "p: nothing comfortable of the vocabulary lies in this area for F; "
        "of all playable shapes the plan takes 5 5 7 8.",
    )


def test_what_to_learn_next_in_one_sentence() -> None:
    pairs = [("C", "0 0 2 3"), ("Am7", "0 0 2 3"), ("F", "5 5 7 8")]
    shapes = tuple((parse_chord(c), at("C" if c == "Am7" else c, f)) for c, f in pairs)

    def said(count: int, frets: int, changes: int) -> str:
        return NextFamily((0,), shapes[:count], 1.0, frets, 1.0, changes, 9, "it is easier").words

    assert said(1, 3, 2) == (
        "Learn 0 0 2 3 for C, and the hand travels three frets less, in 2 of the 9 changes."
    )
    assert said(2, 1, 1).startswith(
        "Learn 0 0 2 3 for C and Am7, and the hand travels one fret less"
    )
    assert said(3, 0, 2) == "Learn 0 0 2 3 for C and Am7, and 5 5 7 8 for F, and it is easier."
    assert said(1, 3, 0) == "Learn 0 0 2 3 for C, and it is easier."
    assert said(1, -1, 3) == "Learn 0 0 2 3 for C, and it is easier."


def test_no_such_position_in_whole_sentences() -> None:
    home, names = parse_chord("C"), ["root-top", "third-top"]
    there = "Positions there are: root-top, third-top; or a fret for the index finger."
    assert str(no_position([9], home, TENOR, names)) == (
        f"no plan with the index finger from fret 9 on: not every chord has a shape there on "
        f"{TENOR.title}. {there}"
    )
    assert str(no_position(["sixth"], home, TENOR, names)) == (
        f"there is no position 'sixth' with C as home chord on {TENOR.title}. {there}"
    )
    assert str(no_position(["sixth", 9, "root-pot"], home, TENOR, names)) == (
        f"there is no position 'sixth' with C as home chord on {TENOR.title}. "
        f"No plan with the index finger from fret 9 on: not every chord has a shape there on "
        f"{TENOR.title}. There is no position 'root-pot' with C as home chord on {TENOR.title}. "
        f"Did you mean 'root-top'? {there}"
    )


def test_every_position_that_is_not_there_is_told_at_once() -> None:
    chords = tuple(map(parse_chord, ("C", "F", "G7")))
    neck = Neck(Player(TENOR, MEDIUM, find_repertoire(TENOR)), chords, chords[0])
    wish = Wish(positions=("sixth", "root-top", "seventh", "17"))
    with pytest.raises(NoShapeError) as raised:
        neck.positions(wish)
    told = str(raised.value)
    assert told.index("'sixth'") < told.index("'seventh'") < told.index("fret 17 on")
    assert "no position 'root-top'" not in told
    assert told.count("Positions there are") == 1


def test_areas_and_slots_hold_what_they_say() -> None:
    closed, opened = at("C", "4 5 5 7"), at("C", "0 0 2 3")
    for low, high, shut in product(range(1, 8), range(1, 8), (False, True)):
        area = Area(low, high, shut)
        assert area.holds(closed) == (low <= 4 <= high)
        assert area.holds(opened) == (low <= 2 <= high and not shut)
    c = parse_chord("C")
    assert [Slot(c, top).suits(closed) for top in (None, 4, 0)] == [True, True, False]
    assert [Slot(c, None, f).suits(closed) for f in ((4, 5, 5, 7), (0, 0, 2, 3))] == [True, False]
    assert not Slot(c, 0, (4, 5, 5, 7)).suits(closed)


def test_shapes_of_a_chord_best_first() -> None:
    player = Player.on(TENOR, MEDIUM)
    chord = parse_chord("C7")
    every = chord_shapes(player, chord)
    assert every.of == len(every) == len(player.playable(chord))
    assert [str(s) for s in chord_shapes(player, chord, best=3)] == [str(s) for s in every[:3]]
    assert len(chord_shapes(player, chord, best=1)) == 1
    assert {s.frets for s in chord_shapes(player, chord, closed=True)} == {
        s.frets for s in every if 0 not in s.frets
    }
    costs = player.cost_model()
    learning = costs.weights.learning
    made = {one.shape.frets: one.new for one in player.vocabulary.shapes(chord)}
    dear = [costs.shape(s, chord) + learning * made.get(s.frets, True) for s in every]
    assert dear == pytest.approx(sorted(dear))
    first = chord_shapes(player, chord, vocabulary="first")
    assert {s.frets for s in first} == made.keys() & {s.frets for s in every}
    assert repr(first).startswith(f"<{len(first)} of {first.of} shapes of C7: ")
    assert repr(chord_shapes(player, chord, best=3)).count(",") == 2
    assert repr(chord_shapes(player, chord, best=4)).endswith(", ...>")
    short = Player.on(TENOR, MEDIUM.with_reach(5))
    with pytest.raises(NoShapeError, match=r"^C\+: no closed shape on .* From a reach of \d+ mm"):
        chord_shapes(short, parse_chord("C+"), closed=True)
    assert smallest_reach(parse_chord("C+"), short) is not None


def test_beats_and_bars_as_json_numbers() -> None:
    assert [_number(value) for value in (1.0, 2.5, 1.33333333)] == [1, 2.5, 1.3333]
    assert isinstance(_number(3.0), int)
