"""A second player of chords: close voicings that move as little as they can.

Conventions: pitches are MIDI numbers; a voicing is a rising tuple of up to four of them between
`LOW` and `HIGH`. A *hold* is one chord for as long as it lasts. Common practice, no published
source: a keyboard player keeps chords in the middle of the keyboard, in close position, moving each
voice by the smallest step; of a chord of more than four tones the least missed are left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from accomp.harmony import Chord
from accomp.rhythm.bass import BandBar
from accomp.rhythm.pattern import sounding_share
from accomp.rhythm.stroke import ForceStep
from accomp.time import Span

LOW, HIGH = 50, 77  # D3 to F5
MIDDLE = 62


class Strike(StrEnum):
    """How much of a voicing is struck."""

    CHORD = "chord"  # all of it
    SHELL = "shell"  # the lowest two voices


STRIKES = tuple(strike.value for strike in Strike)
_MOST_VOICES = 4


@dataclass(frozen=True, slots=True)
class CompNote:
    """One strike: all of its `pitches` together."""

    span: Span
    pitches: tuple[int, ...]
    force: ForceStep


@cache
def voicings(chord: Chord) -> tuple[tuple[int, ...], ...]:
    """Every close voicing of a chord in range: up to four of its tones, each inversion."""
    degrees = [tone.degree for tone in chord.tones]
    for degree in chord.drop_order:
        if len(degrees) > _MOST_VOICES and degree in degrees:
            degrees.remove(degree)
    kept = sorted({tone.pc for tone in chord.tones if tone.degree in degrees})
    found = []
    for bottom in range(LOW, HIGH + 1):
        if bottom % 12 in kept:
            pitches = tuple(sorted(bottom + (pc - bottom) % 12 for pc in kept))
            if pitches[-1] <= HIGH:
                found.append(pitches)
    return tuple(found)


def comp_line(bars: Sequence[BandBar]) -> tuple[CompNote, ...]:
    """The strikes of the player through all bars; `pattern` of each bar is this player's.

    An exact search chooses all voicings together, for the least movement of the voices.
    """
    strikes: list[tuple[Span, str, ForceStep]] = []
    holds: list[Chord] = []
    hold_of: list[int] = []
    held: Chord | None = None
    for bar in bars:
        for span, chord in bar.changes:
            if chord is not None and chord != held:
                holds.append(chord)
            held = chord
            if chord is None or bar.pattern is None:
                continue
            shift = bar.span.start - bar.turn
            for note_span, note in bar.pattern.during(span.shifted(-shift)):
                played = sounding_share(note_span.shifted(shift), note.sound)
                strikes.append((played, note.what, note.force))
                hold_of.append(len(holds) - 1)
    chosen = _smoothest(holds)
    return tuple(
        CompNote(span, chosen[hold][:2] if what == Strike.SHELL else chosen[hold], force)
        for (span, what, force), hold in zip(strikes, hold_of, strict=True)
    )


def movement(first: tuple[int, ...], second: tuple[int, ...]) -> int:
    """How far the voices go from one voicing to the next, in semitones: paired from the top, a
    voice that comes or goes counting from its nearest neighbour."""
    total = sum(abs(a - b) for a, b in zip(first[::-1], second[::-1], strict=False))
    longer, shorter = (first, second) if len(first) > len(second) else (second, first)
    for extra in longer[: len(longer) - len(shorter)]:
        total += min(abs(extra - other) for other in shorter)
    return total


def _smoothest(holds: Sequence[Chord]) -> list[tuple[int, ...]]:
    """The voicings that move least in all and lie near the middle, by dynamic programming."""
    if not holds:
        return []
    table: list[dict[tuple[int, ...], tuple[int, tuple[int, ...]]]] = []
    for index, chord in enumerate(holds):
        row = {}
        for voicing in voicings(chord):
            own = abs(sum(voicing) - MIDDLE * len(voicing)) // len(voicing)
            if index == 0:
                row[voicing] = (own, voicing)
            else:
                row[voicing] = min(
                    (cost + own + 2 * movement(before, voicing), before)
                    for before, (cost, _) in table[-1].items()
                )
        table.append(row)
    voicing = min(table[-1], key=lambda found: (table[-1][found][0], found))
    chosen = [voicing]
    for row in reversed(table[1:]):
        voicing = row[voicing][1]
        chosen.append(voicing)
    return chosen[::-1]
