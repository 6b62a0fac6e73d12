"""The neck: every shape of the whole vocabulary, and fixed planning, against trying everything.

Exhaustive searches would take days, so they are timed on a sample and multiplied: 20,000 rows of
frets judged from the definitions (the tests' oracle), 20,000 combinations of shapes added up.
Planning by the number of bars is measured in `planning_bench`.
"""

from __future__ import annotations

import math
import random
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from accomp.harmony import Chord, parse_chord
from accomp.harmony.table import chord_table
from accomp.neck import (
    Instrument,
    Neck,
    Player,
    Shape,
    Wish,
    find_hand,
    find_instrument,
    fingering,
    playable_shapes,
    search,
)
from benchmarks.measure import Measure, in_turns

SAMPLE = 20_000
TUNES = 50
SECONDS_A_TUNE = 2.0
ROOTS = "C Db D Eb E F Gb G Ab A Bb B".split()
COMMON = ["", "", "", "m", "7", "7", "7", "m7", "maj7", "6", "dim7", "m7b5", "9", "+", "sus4"]
FOUR_CHORDS = "C G7 C C7 F C G7 C"
HAND = find_hand("medium")


def run() -> list[Measure]:
    """All figures of the neck."""
    return [
        _vocabulary("tenor-banjo"),
        _vocabulary("guitar"),
        _four_chords(),
        *_twenty_chords("first", Wish(vocabulary="first")),
        *_twenty_chords("first shapes and inversions", Wish()),
        *_twenty_chords("all", Wish(vocabulary="all")),
    ]


def _vocabulary(name: str) -> Measure:
    """Every shape of 12 roots times every row of the chord table, nothing remembered before."""
    instrument = find_instrument(name)
    suffixes = dict.fromkeys(row.spellings[0] for row in chord_table().rows)
    chords = [parse_chord(root + suffix) for root in ROOTS for suffix in suffixes]
    search._all.cache_clear()
    fingering.fingerings.cache_clear()
    start = time.perf_counter()
    found = sum(len(playable_shapes(chord, instrument, HAND)) for chord in chords)
    ours = time.perf_counter() - start
    theirs = _judging(instrument, chords) * len(chords)
    return Measure(
        f"all shapes of {len(chords)} chords, {instrument.title.lower()}",
        ours,
        "s",
        f"trying every row of frets, from {SAMPLE:,} rows",
        theirs,
        theirs / ours,
        note=f"{found:,} shapes, {1e6 * ours / found:.0f} us each",
    )


def _judging(instrument: Instrument, chords: Sequence[Chord]) -> float:
    """Seconds that the oracle takes for one chord, from a sample of all rows of frets."""
    sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "oracles"))
    import neck_shapes

    neck = neck_shapes.Neck(
        instrument.open_pitches,
        instrument.frets,
        instrument.scale_mm,
        instrument.sounding,
        HAND.greatest_mm,
        HAND.neighbour,
    )
    draw = random.Random(1)
    silent = [None] if len(instrument.strings) > instrument.sounding else []
    choices = [*silent, *range(instrument.frets + 1)]
    rows = [tuple(draw.choice(choices) for _ in neck.opens) for _ in range(SAMPLE)]
    start = time.perf_counter()
    for number, frets in enumerate(rows):
        chord = chords[number % len(chords)]
        sounding = [index for index, fret in enumerate(frets) if fret is not None]
        if len(sounding) < neck.least or sounding[-1] - sounding[0] != len(sounding) - 1:
            continue
        pcs = {(neck.opens[index] + frets[index]) % 12 for index in sounding}
        if chord.essential_pcs <= pcs <= chord.by_pc.keys():
            neck_shapes.best_fingering(neck, frets)
    return (time.perf_counter() - start) / SAMPLE * len(choices) ** len(neck.opens)


def _four_chords() -> Measure:
    """Fixed planning from all shapes, against adding up every combination of shapes."""
    instrument = find_instrument("tenor-banjo")
    chords = [parse_chord(symbol) for symbol in FOUR_CHORDS.split()]
    symbols = list(dict.fromkeys(chords))
    shapes = {chord: playable_shapes(chord, instrument, HAND) for chord in symbols}
    player = Player.on(instrument, HAND)
    costs = player.cost_model()
    every = Wish(vocabulary="all")
    combinations = math.prod(len(some) for some in shapes.values())
    own = {(c, s): costs.shape(s, c) for c, some in shapes.items() for s in some}
    draw = random.Random(2)
    sample = [{c: draw.choice(some) for c, some in shapes.items()} for _ in range(SAMPLE)]
    for chosen in sample:  # remembers the costs of changes, as the planner does
        _added_up(chords, chosen, own, costs.change)
    ours, theirs = in_turns(
        [
            lambda: Neck(player, tuple(chords), chords[0]).positions(every),
            lambda: min(_added_up(chords, chosen, own, costs.change) for chosen in sample),
        ],
        5,
    )
    whole = theirs.median * combinations / SAMPLE
    return Measure(
        "fixed planning, four chords, all shapes, every position",
        ours.median,
        "s",
        f"adding up {combinations:,} combinations, from {SAMPLE:,}",
        whole,
        whole / ours.median,
        at_least=1000,
        note=f"{theirs.median / SAMPLE * 1e6:.1f} us a combination, every cost known before",
    )


def _added_up(
    chords: Sequence[Chord],
    chosen: dict[Chord, Shape],
    own: dict[tuple[Chord, Shape], float],
    change: Callable[[Shape, Shape], float],
) -> float:
    total = 0.0
    before = chosen[chords[-1]]
    for chord in chords:
        shape = chosen[chord]
        total += own[chord, shape] + change(before, shape)
        before = shape
    return total


def _twenty_chords(shapes: str, wish: Wish) -> list[Measure]:
    """Random tunes of 20 chords: how long the slowest takes, and how many plans are proved."""
    player = Player.on(find_instrument("tenor-banjo"), HAND)
    draw = random.Random(3)
    seconds, plans = [], []
    for _ in range(TUNES):
        chords = _tune(draw, 20, 40)
        start = time.perf_counter()
        plans += Neck(player, tuple(chords), chords[-1]).positions(wish)
        seconds.append(time.perf_counter() - start)
    in_time = sum(one <= SECONDS_A_TUNE for one in seconds) / TUNES
    proved = sum(plan.proved for plan in plans) / len(plans)
    gap = max(plan.gap for plan in plans)
    return [
        Measure(
            f"20 chords, {shapes} shapes, every position: slowest of nine in ten of {TUNES} tunes",
            sorted(seconds)[int(0.9 * TUNES) - 1],
            "s",
            "what a player waits for",
            SECONDS_A_TUNE,
            sorted(seconds)[int(0.9 * TUNES) - 1] / SECONDS_A_TUNE,
            at_most=1.0,
            note=f"{in_time:.0%} in time; {proved:.1%} of {len(plans)} plans proved, "
            f"greatest gap {gap:.2%}",
        )
    ]


def _tune(draw: random.Random, symbols: int, length: int) -> list[Chord]:
    """A cycle of chords in which none follows itself."""
    pool: list[str] = []
    while len(pool) < symbols:
        symbol = draw.choice(ROOTS) + draw.choice(COMMON)
        if symbol not in pool:
            pool.append(symbol)
    sequence = list(pool)
    while len(sequence) < length or sequence[0] == sequence[-1]:
        sequence.append(draw.choice([symbol for symbol in pool if symbol != sequence[-1]]))
    return [parse_chord(symbol) for symbol in sequence]
