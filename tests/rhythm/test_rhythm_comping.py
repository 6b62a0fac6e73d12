"""The second player of chords: whole chords in range, moving as little as can be."""

import random
from fractions import Fraction
from itertools import pairwise, product

import pytest

from accomp.harmony import parse_chord
from accomp.rhythm import BandBar, BandNote, BandPattern
from accomp.rhythm.comping import HIGH, LOW, comp_line, movement, voicings
from accomp.time import Span

PATTERN = BandPattern(
    Fraction(1), (BandNote(Fraction(1, 4), "chord"), BandNote(Fraction(3, 4), "shell", "light"))
)
SYMBOLS = "C Cm7 F7 Bdim7 G9 Ebmaj7 Am7b5 D7#9 C5 Gsus4 Bb6/9 E+ F13 Ab(add9)".split()


def bars_of(symbols):
    bars = []
    for number, symbol in enumerate(symbols):
        span = Span(Fraction(number), Fraction(number + 1))
        chord = None if symbol == "N.C." else parse_chord(symbol)
        bars.append(BandBar(span, ((span, chord),), PATTERN, span.start, str(number)))
    return bars


@pytest.mark.parametrize("symbol", SYMBOLS)
def test_a_voicing_is_the_chord_in_close_position(symbol):
    chord = parse_chord(symbol)
    assert voicings(chord)
    for voicing in voicings(chord):
        pcs = [pitch % 12 for pitch in voicing]
        assert set(pcs) <= {tone.pc for tone in chord.tones}
        assert {tone.pc for tone in chord.tones if tone.essential} <= set(pcs)
        assert len(set(pcs)) == len(pcs) == min(4, len(chord.tones))
        assert LOW <= voicing[0] < voicing[-1] <= HIGH
        assert voicing[-1] - voicing[0] < 12, "close position: within an octave"


def test_what_is_struck_when():
    line = comp_line(bars_of(["C", "N.C.", "F"]))
    assert [(note.span.start, len(note.pitches), note.force) for note in line] == [
        (Fraction(1, 4), 3, "plain"),
        (Fraction(3, 4), 2, "light"),
        (Fraction(9, 4), 3, "plain"),
        (Fraction(11, 4), 2, "light"),
    ]
    assert line[0].pitches[:2] == line[1].pitches


def far(first, second):
    """Movement of two voicings once more, from its words."""
    a, b = list(first)[::-1], list(second)[::-1]
    total = sum(abs(x - y) for x, y in zip(a, b, strict=False))
    longer, shorter = (a, b) if len(a) > len(b) else (b, a)
    return total + sum(min(abs(x - y) for y in shorter) for x in longer[len(shorter) :])


def cost(line):
    own = sum(abs(sum(v) - 62 * len(v)) // len(v) for v in line)
    return own + 2 * sum(far(a, b) for a, b in pairwise(line))


@pytest.mark.parametrize("case", range(12))
def test_the_voicings_are_the_cheapest_there_are(case):
    rng = random.Random(case)
    symbols = rng.sample(SYMBOLS, 4)
    line = [note.pitches for note in comp_line(bars_of(symbols))[::2]]
    chords = [parse_chord(symbol) for symbol in symbols]
    best = min(cost(choice) for choice in product(*(voicings(chord) for chord in chords)))
    assert cost(line) == best


def test_movement_counts_a_voice_that_comes_or_goes():
    assert movement((60, 64, 67), (60, 64, 67)) == 0
    assert movement((60, 64, 67), (60, 65, 69)) == 3
    assert movement((60, 64, 67), (58, 60, 64, 67)) == 2
