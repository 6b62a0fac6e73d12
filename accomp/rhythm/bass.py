"""The bass: roles on the count become pitches, by exact search.

Conventions: pitches are MIDI numbers of the sound (60 = C4) on an upright bass, E1 (28) to G3 (55).
Times are fractions of a whole note, spans half-open. A *hold* is one chord for as long as it
lasts, over bar lines too. The rules are common practice, no published source: the first note on
a chord is its root, or the bass its symbol names; a line moves by step or by a comfortable leap,
never over an octave; an approach note leads into the next note by step.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from accomp.harmony import Chord
from accomp.rhythm.bass_cost import (
    HIGH,
    LOW,
    BassRole,
    OpenNote,
    candidates,
    move_cost,
    note_cost,
)
from accomp.rhythm.feel import weight
from accomp.rhythm.pattern import BandNote, BandPattern, sounding_share
from accomp.rhythm.stroke import ForceStep
from accomp.time import Span

ROLES = tuple(role.value for role in BassRole)


@dataclass(frozen=True, slots=True)
class BandBar:
    """One bar to play: its chords in order, the pattern, and where in the pattern it begins.

    `turn` is the time from where the pattern started to the bar line; `address` names the bar for
    the choice among equals, so that adding a bar elsewhere leaves this one alone. In `stop_time`
    struck notes are short. `scale` holds the pitch classes of the key where approach notes have to
    come from it, else it is empty.
    """

    span: Span
    changes: tuple[tuple[Span, Chord | None], ...]
    pattern: BandPattern | None
    turn: Fraction = Fraction(0)
    address: str = ""
    stop_time: bool = False
    scale: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class BassNote:
    """One note of the line."""

    span: Span
    pitch: int
    force: ForceStep


def bass_line(
    bars: Sequence[BandBar], *, low: int = LOW, high: int = HIGH, seed: int = 0
) -> tuple[BassNote, ...]:
    """The cheapest line through all bars (see `accomp.rhythm.bass_cost`), seeded among equals.

    A chord in which the pattern has no note gets its root where it begins. Nothing is played under
    None (N.C.) or in a bar without a pattern.
    """
    open_notes = find_open_notes(bars)
    if not open_notes:
        return ()
    pitches = _cheapest(open_notes, low, high, seed)
    return tuple(
        BassNote(one.span, pitch, one.force) for one, pitch in zip(open_notes, pitches, strict=True)
    )


def find_open_notes(bars: Sequence[BandBar]) -> tuple[OpenNote, ...]:
    """The notes of the bass with their roles, before any pitch is chosen."""
    found: list[OpenNote] = []
    held: Chord | None = None
    waiting = False  # the chord has come and its first note has not
    for bar in bars:
        notes: tuple[tuple[Span, BandNote], ...] = ()
        if bar.pattern is not None:
            inside = Span(bar.turn, bar.turn + bar.span.duration)
            shift = bar.span.start - bar.turn
            notes = tuple((span.shifted(shift), note) for span, note in bar.pattern.during(inside))
        for span, chord in bar.changes:
            if chord != held:
                held, waiting = chord, True
            if chord is None or bar.pattern is None:
                continue
            here = [(note_span, note) for note_span, note in notes if note_span.start in span]
            if not here and waiting and bar.pattern.notes:
                here = [(span, _hit(bar, span))]
            for note_span, note in here:
                played = note_span.cut(span)
                assert played is not None
                played = sounding_share(played, note.sound)
                role = BassRole.ROOT if waiting and not bar.pattern.free else BassRole(note.what)
                found.append(
                    OpenNote(
                        played,
                        chord,
                        role,
                        note.force,
                        f"{bar.address}:{note_span.start - bar.span.start}",
                        bar.scale,
                    )
                )
                waiting = False
    return tuple(found)


def _hit(bar: BandBar, span: Span) -> BandNote:
    """The root of a chord in which the pattern has no note; in stop-time as hard and as short as
    the pattern's own notes."""
    assert bar.pattern is not None
    note = BandNote(span.start, BassRole.ROOT)
    if bar.stop_time:
        first = bar.pattern.notes[0]
        note = replace(note, force=first.force, sound=first.sound)
    return note


def _cheapest(open_notes: Sequence[OpenNote], low: int, high: int, seed: int) -> list[int]:
    """The cheapest pitches, by dynamic programming; exact, since costs are whole numbers."""
    # A seeded weight under one thousandth of a cost step chooses among lines of equal cost.
    scale = 1000 * len(open_notes)
    # For each open note: (cost so far, pitch before) by pitch.
    best: list[dict[int, tuple[int, int]]] = []
    for index, one in enumerate(open_notes):
        row: dict[int, tuple[int, int]] = {}
        for pitch in candidates(one, low, high):
            own = note_cost(one, pitch) * scale + weight(1000, seed, "bass", one.key, pitch)
            if index == 0:
                row[pitch] = (own, pitch)  # nothing comes before
                continue
            reached = [
                (cost + step * scale, before)
                for before, (cost, _) in best[-1].items()
                if (step := move_cost(open_notes[index - 1], one, before, pitch)) is not None
            ]
            if reached:
                cost, before = min(reached)
                row[pitch] = (cost + own, before)
        assert row, "every open note has a pitch within an octave of the one before"
        best.append(row)
    pitch = min(best[-1], key=lambda found: best[-1][found])
    line = [pitch]
    for row in reversed(best[1:]):
        pitch = row[pitch][1]
        line.append(pitch)
    return line[::-1]
