"""Which pitches a bass role allows, and what a note and a move cost.

Conventions: MIDI numbers; costs are whole numbers, 0 the best. Common practice, no published
source.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from accomp.harmony import Chord
from accomp.rhythm.stroke import ForceStep
from accomp.time import Span

LOW, HIGH = 28, 55  # E1, the lowest string, to G3
MIDDLE = 40  # E2: the line lies around it
OCTAVE = 12

# By the size of a move in semitones: steps are free, a tritone and wide leaps are awkward.
_MOVE = (6, 0, 0, 1, 1, 2, 4, 2, 4, 5, 8, 9, 4)


class BassRole(StrEnum):
    """The part of a bass note in its chord, or in relation to the note before or after it."""

    ROOT = "root"  # the root, or the bass that the symbol names
    THIRD = "third"
    FIFTH = "fifth"
    SIXTH = "sixth"
    SEVENTH = "seventh"
    OCTAVE = "octave"  # the root an octave from the note before
    TONE = "tone"  # any tone of the chord
    WALK = "walk"  # a tone of the chord or a step between two notes
    APPROACH = "approach"  # a step, or a fifth, into the next note
    AGAIN = "again"  # the note before once more


_DEGREES = {
    BassRole.THIRD: ("3", "b3", "4", "2", "9"),
    BassRole.FIFTH: ("5", "b5", "#5"),
    BassRole.SIXTH: ("6", "13", "b13", "bb7"),
    BassRole.SEVENTH: ("7", "b7", "bb7", "6"),
}
# What stands in for a tone that the chord has not, in semitones above the root: the root itself for
# a third or a seventh, a perfect fifth, a major sixth.
_INSTEAD = {BassRole.THIRD: 0, BassRole.FIFTH: 7, BassRole.SIXTH: 9, BassRole.SEVENTH: 0}


@dataclass(frozen=True, slots=True)
class OpenNote:
    """A note whose pitch is open; `key` names it for the choice among equals.

    Where there is a `scale` (pitch classes), an approach note is taken from it or from the chord.
    """

    span: Span
    chord: Chord
    role: BassRole
    force: ForceStep
    key: str
    scale: frozenset[int] = frozenset()


def root_pc(chord: Chord) -> int:
    """Pitch class of the chord's bass: what its symbol names after `/`, else its root."""
    return (chord.bass or chord.root).pc


def role_pc(chord: Chord, role: BassRole) -> int:
    """Pitch class of a role that names a single tone."""
    if role in (BassRole.ROOT, BassRole.OCTAVE):
        return root_pc(chord)
    by_degree = {tone.degree: tone.pc for tone in chord.tones}
    for degree in _DEGREES[role]:
        if degree in by_degree:
            return by_degree[degree]
    return (chord.root.pc + _INSTEAD[role]) % 12


@cache
def chord_pcs(chord: Chord) -> frozenset[int]:
    """Pitch classes of a chord: its tones and its bass."""
    return frozenset(tone.pc for tone in chord.tones) | {root_pc(chord)}


@cache
def scale_pcs(chord: Chord) -> frozenset[int]:
    """Pitch classes of a chord and its second, fourth and sixth, by default the usual ones."""
    pcs = set(chord_pcs(chord))
    for near, usual in (((1, 2), 2), ((5, 6), 5), ((8, 9), 9)):
        if not any((chord.root.pc + step) % 12 in pcs for step in near):
            pcs.add((chord.root.pc + usual) % 12)
    return frozenset(pcs)


@cache
def _pitches(chord: Chord, role: BassRole, low: int, high: int) -> tuple[int, ...]:
    if role in (BassRole.WALK, BassRole.APPROACH, BassRole.AGAIN):
        return tuple(range(low, high + 1))
    pcs = chord_pcs(chord) if role == BassRole.TONE else frozenset({role_pc(chord, role)})
    return tuple(pitch for pitch in range(low, high + 1) if pitch % 12 in pcs)


def candidates(note: OpenNote, low: int, high: int) -> tuple[int, ...]:
    """Every pitch from `low` to `high` that the note's role allows."""
    found = _pitches(note.chord, note.role, low, high)
    if note.role == BassRole.APPROACH and note.scale:
        near = note.scale | chord_pcs(note.chord)
        return tuple(pitch for pitch in found if pitch % 12 in near)
    return found


def note_cost(note: OpenNote, pitch: int) -> int:
    """The cost of a pitch by itself.

    A pitch far from the middle of the instrument costs more. So does, for a walking note, one that
    is foreign to the chord, and for a walking note or one that may be any tone the root, which
    leads nowhere.
    """
    cost = max(abs(pitch - MIDDLE) - 7, 0)
    if note.role in (BassRole.WALK, BassRole.TONE) and pitch % 12 == root_pc(note.chord):
        cost += 3
    if note.role == BassRole.WALK and pitch % 12 not in chord_pcs(note.chord):
        cost += 2 if pitch % 12 in scale_pcs(note.chord) else 4
    return cost


def move_cost(before: OpenNote, after: OpenNote, first: int, second: int) -> int | None:
    """The cost of going from pitch `first` of one note to pitch `second` of the next.

    None for a move that is not allowed: over an octave, or against one of the two roles.
    """
    size = abs(second - first)
    if size > OCTAVE:
        return None
    cost = _MOVE[size]
    if after.role == BassRole.AGAIN:
        return 0 if size == 0 else None
    if after.role == BassRole.OCTAVE and size != OCTAVE:
        cost += 10
    if before.role == BassRole.APPROACH:
        if size in (1, 2):
            cost += 0 if size == 1 else 1
        elif (first - second) % 12 == 7:
            cost += 3
        else:
            return None
    for note, pitch in ((before, first), (after, second)):
        foreign = note.role == BassRole.WALK and pitch % 12 not in chord_pcs(note.chord)
        if foreign and size not in (1, 2):
            return None
    return cost
