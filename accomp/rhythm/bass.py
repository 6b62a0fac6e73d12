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
    BassPlace,
    BassRole,
    candidates,
    move_cost,
    place_cost,
)
from accomp.rhythm.feel import weight
from accomp.rhythm.pattern import BandNote, BandPattern, sounding_part
from accomp.rhythm.stroke import ForceStep
from accomp.time import Span

ROLES = tuple(role.value for role in BassRole)


@dataclass(frozen=True, slots=True)
class BandBar:
    """One bar to play: its chords in order, the pattern, and where in the pattern it begins.

    `turn` is the time from where the pattern started to the bar line; `place` names the bar for
    the choice among equals, so that adding a bar elsewhere leaves this one alone. In `stop_time`
    what is struck is short. `scale` holds the pitch classes of the key where approach notes come
    from it, and is empty where they need not.
    """

    span: Span
    changes: tuple[tuple[Span, Chord | None], ...]
    pattern: BandPattern | None
    turn: Fraction = Fraction(0)
    place: str = ""
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

    Where a chord has no place of the pattern in it, its root is played where it begins; nothing is
    played under None (N.C.) or where a bar has no pattern.
    """
    places = find_places(bars)
    if not places:
        return ()
    pitches = _cheapest(places, low, high, seed)
    return tuple(
        BassNote(place.span, pitch, place.force)
        for place, pitch in zip(places, pitches, strict=True)
    )


def find_places(bars: Sequence[BandBar]) -> tuple[BassPlace, ...]:
    """Where the bass plays, and as what, before any pitch is chosen."""
    places: list[BassPlace] = []
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
            here = [(part, note) for part, note in notes if part.start in span]
            if not here and waiting and bar.pattern.notes:
                here = [(span, _hit(bar, span))]
            for part, note in here:
                played = part.cut(span)
                assert played is not None
                played = sounding_part(played, note.sound)
                role = BassRole.ROOT if waiting and not bar.pattern.free else BassRole(note.what)
                places.append(
                    BassPlace(
                        played,
                        chord,
                        role,
                        note.force,
                        f"{bar.place}:{part.start - bar.span.start}",
                        bar.scale,
                    )
                )
                waiting = False
    return tuple(places)


def _hit(bar: BandBar, span: Span) -> BandNote:
    """A root for a chord that the pattern does not reach; in stop-time as hard and as short as the
    pattern's own."""
    assert bar.pattern is not None
    note = BandNote(span.start, BassRole.ROOT)
    if bar.stop_time:
        first = bar.pattern.notes[0]
        note = replace(note, force=first.force, sound=first.sound)
    return note


def _cheapest(places: Sequence[BassPlace], low: int, high: int, seed: int) -> list[int]:
    """Dynamic programming over the pitches of each place; costs are whole numbers, so exact."""
    # A seeded weight under one thousandth of a cost step chooses among lines of equal cost.
    scale = 1000 * len(places)
    best: list[dict[int, tuple[int, int]]] = []  # per place: pitch -> (cost so far, pitch before)
    for index, place in enumerate(places):
        row: dict[int, tuple[int, int]] = {}
        for pitch in candidates(place, low, high):
            own = place_cost(place, pitch) * scale + weight(1000, seed, "bass", place.key, pitch)
            if index == 0:
                row[pitch] = (own, -1)
                continue
            reached = [
                (cost + step * scale, before)
                for before, (cost, _) in best[-1].items()
                if (step := move_cost(places[index - 1], place, before, pitch)) is not None
            ]
            if reached:
                cost, before = min(reached)
                row[pitch] = (cost + own, before)
        assert row, "every place has a pitch within an octave of the one before"
        best.append(row)
    pitch = min(best[-1], key=lambda found: best[-1][found])
    line = [pitch]
    for row in reversed(best[1:]):
        pitch = row[pitch][1]
        line.append(pitch)
    return line[::-1]
