"""Bass lines: roles, rules, and exact search against trying everything."""

import random
from fractions import Fraction
from itertools import pairwise, product

import pytest

from accomp.harmony import parse_chord
from accomp.rhythm import BandBar, BandNote, BandPattern, bass_line, find_style, style_names
from accomp.rhythm.bass_cost import BassRole, OpenNote, move_cost
from accomp.rhythm.stroke import ForceStep
from accomp.time import Span

BAR = Fraction(1)
QUARTER = Fraction(1, 4)


def pattern(*roles, free=False, sound="long"):
    step = BAR / len(roles)
    notes = tuple(
        BandNote(step * i, role, sound=sound) for i, role in enumerate(roles) if role != "."
    )
    return BandPattern(BAR, notes, "acoustic-bass", free)


def bars_of(symbols, played, length=BAR):
    """One bar a symbol; two chords in a bar are joined by a space."""
    bars = []
    for number, text in enumerate(symbols):
        start = number * length
        names = text.split()
        step = length / len(names)
        changes = tuple(
            (
                Span(start + i * step, start + (i + 1) * step),
                None if name == "N.C." else parse_chord(name),
            )
            for i, name in enumerate(names)
        )
        bars.append(BandBar(Span(start, start + length), changes, played, start, f"bar {number}"))
    return bars


def names(line):
    return ["C Db D Eb E F Gb G Ab A Bb B".split()[note.pitch % 12] for note in line]


def test_root_and_fifth():
    line = bass_line(bars_of(["F", "Bb"], pattern("root", "fifth")))
    assert names(line) == ["F", "C", "Bb", "F"]
    assert [note.span.start for note in line] == [0, Fraction(1, 2), 1, Fraction(3, 2)]


# Common practice, no source: altered fifths are kept; a chord of the fourth has no third.
@pytest.mark.parametrize(
    ("symbol", "role", "expected"),
    [
        ("Cdim7", "fifth", "Gb"),
        ("C+", "fifth", "Ab"),
        ("C7b5", "fifth", "Gb"),
        ("Cm7", "third", "Eb"),
        ("Csus4", "third", "F"),
        ("C7", "seventh", "Bb"),
        ("Cmaj7", "seventh", "B"),
        ("C6", "sixth", "A"),
        ("C", "sixth", "A"),
        ("C5", "fifth", "G"),
    ],
)
def test_roles_follow_the_chord(symbol, role, expected):
    assert names(bass_line(bars_of([symbol], pattern("root", role))))[1] == expected


def test_the_bass_that_the_symbol_names_comes_first():
    assert names(bass_line(bars_of(["F/C", "C7/E"], pattern("root", "tone"))))[::2] == ["C", "E"]


def test_a_chord_begins_on_its_root_unless_the_style_says_otherwise():
    assert names(bass_line(bars_of(["F"], pattern("fifth", "root")))) == ["F", "F"]
    assert names(bass_line(bars_of(["F"], pattern("fifth", "root", free=True)))) == ["C", "F"]


def test_a_chord_that_no_place_reaches_gets_its_root():
    line = bass_line(bars_of(["F C7"], pattern("root")))
    assert names(line) == ["F", "C"]
    assert [note.span for note in line] == [
        Span(Fraction(0), Fraction(1, 2)),
        Span(Fraction(1, 2), Fraction(1)),
    ]


def test_nothing_under_no_chord_and_nothing_without_a_pattern():
    assert names(bass_line(bars_of(["F", "N.C.", "C"], pattern("root")))) == ["F", "C"]
    assert bass_line(bars_of(["F", "C"], None)) == ()
    assert bass_line([]) == ()


def test_an_approach_leads_by_step_or_fifth():
    for symbols in (["F", "Bb"], ["C", "G7"], ["D7", "Gm7"], ["F", "E7"]):
        line = bass_line(bars_of(symbols, pattern("root", "tone", "approach")))
        step = line[3].pitch - line[2].pitch
        assert abs(step) in (1, 2) or step % 12 == 5


def test_of_ways_to_lead_a_step_is_dearer_than_half_a_one_and_a_fifth_the_dearest():
    approach, root = (
        OpenNote(Span(Fraction(n), Fraction(n + 1)), parse_chord("C"), role, ForceStep.PLAIN, "")
        for n, role in enumerate((BassRole.APPROACH, BassRole.ROOT))
    )

    def added(first, second=36):
        led, plain = (move_cost(one, root, first, second) for one in (approach, root))
        return None if led is None else led - plain

    assert [added(36 + by) for by in (-1, 1, -2, 2)] == [0, 0, 1, 1]
    assert [added(36 + by) for by in (-5, 7)] == [3, 3], "G to C, down or up"
    assert {added(36 + by) for by in (-12, -7, -6, -4, -3, 0, 3, 4, 5, 6, 8, 12)} == {None}


def test_an_octave_is_an_octave():
    line = bass_line(bars_of(["C"], pattern("root", "octave")))
    assert abs(line[1].pitch - line[0].pitch) == 12


def test_again_is_the_note_before():
    line = bass_line(bars_of(["F"], pattern("root", "again", "fifth", "again")))
    assert line[0].pitch == line[1].pitch
    assert line[2].pitch == line[3].pitch


def test_a_short_note_lasts_half_its_time():
    line = bass_line(bars_of(["F"], pattern("root", "fifth", sound="short")))
    assert [note.span.duration for note in line] == [QUARTER, QUARTER]


def test_the_seed_chooses_among_equals_and_repeats():
    bars = bars_of(["F", "D7", "Gm7", "C7"] * 4, pattern("root", "walk", "tone", "approach"))
    lines = {bass_line(bars, seed=seed) for seed in range(8)}
    assert len(lines) > 1
    assert bass_line(bars, seed=3) == bass_line(bars, seed=3)
    assert len({cost_of(bars, [note.pitch for note in line]) for line in lines}) == 1


# ---- The rules once more, written from the words of the module and nothing else.

MOVE = {0: 6, 1: 0, 2: 0, 3: 1, 4: 1, 5: 2, 6: 4, 7: 2, 8: 4, 9: 5, 10: 8, 11: 9, 12: 4}


def tones(chord):
    found = {tone.pc for tone in chord.tones}
    return found | {(chord.bass or chord.root).pc}


def scale(chord):
    found = set(tones(chord))
    for steps, usual in (((1, 2), 2), ((5, 6), 5), ((8, 9), 9)):
        if not any((chord.root.pc + step) % 12 in found for step in steps):
            found.add((chord.root.pc + usual) % 12)
    return found


def places_of(bars):
    """(chord, role) for each note; only for bars of one chord with the pattern's bar."""
    found = []
    held = None
    for bar in bars:
        [(_, chord)] = bar.changes
        for note in bar.pattern.notes:
            found.append((chord, "root" if chord != held else note.what))
            held = chord
    return found


def cost_of(bars, pitches):
    """The cost of a line, None where it breaks a rule."""
    places = places_of(bars)
    total = 0
    for (chord, role), pitch in zip(places, pitches, strict=True):
        bass = (chord.bass or chord.root).pc
        own = {tone.degree: tone.pc for tone in chord.tones}
        fifth = own.get("5", own.get("b5", own.get("#5", (chord.root.pc + 7) % 12)))
        if role == "root" and pitch % 12 != bass:
            return None
        if role == "fifth" and pitch % 12 != fifth:
            return None
        if role == "tone" and pitch % 12 not in tones(chord):
            return None
        total += max(abs(pitch - 40) - 7, 0)
        if role in ("walk", "tone") and pitch % 12 == bass:
            total += 3
        if role == "walk" and pitch % 12 not in tones(chord):
            total += 2 if pitch % 12 in scale(chord) else 4
    for ((c1, r1), p1), ((c2, r2), p2) in pairwise(zip(places, pitches, strict=True)):
        size = abs(p2 - p1)
        if size > 12:
            return None
        total += MOVE[size]
        if r1 == "approach":
            if size == 2:
                total += 1
            elif (p1 - p2) % 12 == 7 and size not in (1, 2):
                total += 3
            elif size != 1:
                return None
        for chord, role, pitch in ((c1, r1, p1), (c2, r2, p2)):
            if role == "walk" and pitch % 12 not in tones(chord) and size not in (1, 2):
                return None
    return total


SYMBOLS = ["C", "F", "G7", "Dm7", "Bdim7", "F/A", "Eb+", "Am7b5", "Bb6", "E7b9", "A5", "Gsus4"]
WALKS = [
    ("root", "fifth"),
    ("root", "walk"),
    ("root", "approach"),
    ("root", "tone", "approach"),
    ("root", "walk", "walk"),
    ("root", "walk", "approach"),
]


@pytest.mark.many(3)
@pytest.mark.parametrize(
    "case", [pytest.param(n, marks=[pytest.mark.long] if n >= 10 else []) for n in range(60)]
)
def test_the_line_is_the_cheapest_there_is(case):
    rng = random.Random(case)
    roles = rng.choice(WALKS)
    low = rng.randint(28, 42)
    high = low + 12
    bars = bars_of(rng.sample(SYMBOLS, 2), pattern(*roles))
    line = [note.pitch for note in bass_line(bars, low=low, high=high, seed=case)]
    choices = [range(low, high + 1)] * len(line)
    for index in (0, len(roles)):  # the roots leave few pitches, which keeps the product small
        chord = places_of(bars)[index][0]
        bass = (chord.bass or chord.root).pc
        choices[index] = [pitch for pitch in choices[index] if pitch % 12 == bass]
    costs = (cost_of(bars, pitches) for pitches in product(*choices))
    assert cost_of(bars, line) == min(cost for cost in costs if cost is not None)


WORDS = "C Cm C7 Cmaj7 Cm7 Cdim7 C+ Csus4 C6 C9 C7b9 Cm7b5 C5 C/E C7/Bb Cm(maj7) C13".split()
ROOTS = "C Db D Eb E F Gb G Ab A Bb B".split()


@pytest.mark.many(20)
@pytest.mark.parametrize("case", range(100))
def test_a_walking_line_over_a_random_tune_keeps_the_rules(case):
    # By the rules written again above: chord tones where the pattern asks for them, other tones by
    # step only, approaches that lead into the next note, no leap over an octave.
    rng = random.Random(f"tune {case}")
    chords = [rng.choice(ROOTS) + rng.choice(WORDS)[1:].split("/")[0] for _ in range(12)]
    symbols = [c + rng.choice(["", "", "", f"/{rng.choice(ROOTS)}"]) for c in chords]
    bars = bars_of(symbols, pattern(*rng.choice(WALKS)))
    pitches = [note.pitch for note in bass_line(bars, seed=case)]
    assert all(28 <= pitch <= 55 for pitch in pitches)  # E1 to G3
    assert cost_of(bars, pitches) is not None


@pytest.mark.parametrize("name", [n for n in style_names() if find_style(n).bass])
def test_a_shipped_line_has_chord_tones_on_strong_beats(name):
    style = find_style(name)
    strong = style.meter.bar / 2 if style.meter.beats == 4 else style.meter.bar
    for played in (style.bass, style.ending.bass, *(p.bass for p in style.passages)):
        for note in played.notes if played else ():
            if note.start % strong == 0:
                assert note.what not in ("walk", "approach"), (note.start, note.what)


@pytest.mark.many(24)
@pytest.mark.parametrize("name", [n for n in style_names() if find_style(n).bass])
@pytest.mark.parametrize("case", range(4))
def test_every_styles_line_is_legal_over_random_chords(name, case):
    rng = random.Random(f"{name} {case}")
    style = find_style(name)
    length = style.meter.bar
    symbols = []
    for _ in range(16):
        chords = []
        for _ in range(rng.choice((1, 1, 1, 2))):
            word = rng.choice(WORDS)
            root = rng.choice(ROOTS)
            slash = f"/{rng.choice(ROOTS)}" if "/" in word else ""
            chords.append(root + word.split("/")[0][1:] + slash)
        symbols.append(" ".join(chords))
    bars = bars_of(symbols, style.bass, length)
    line = bass_line(bars, seed=case)
    assert all(28 <= note.pitch <= 55 for note in line)
    assert all(abs(a.pitch - b.pitch) <= 12 for a, b in pairwise(line))
    assert all(a.span.end <= b.span.start for a, b in pairwise(line))
    held = None
    for bar in bars:
        for span, chord in bar.changes:
            notes = [note for note in line if note.span.start in span]
            assert all(note.span.end <= span.end for note in notes)
            if chord != held and not style.bass.free:
                assert notes[0].pitch % 12 == (chord.bass or chord.root).pc
            held = chord
