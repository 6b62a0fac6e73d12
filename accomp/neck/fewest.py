"""Shapes of a chord by the fewest moves from shapes that are known already.

Conventions: a note that is no tone of the new chord has to move, any other may; each moved note
goes at most `FARTHEST` frets. From each place of each known shape the results with the fewest
moves are kept, and of these those that go the least way altogether.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import combinations, product

from accomp.harmony import Chord
from accomp.neck.derivation import Derivation, Move
from accomp.neck.fingering import Frets
from accomp.neck.instrument import Instrument

FARTHEST = 4  # frets that one note may go: further, and it is another shape
MOST_MOVES = 2


def fewest_moves(
    chord: Chord,
    sources: Iterable[Derivation],
    instrument: Instrument,
    suits: Callable[[Frets], bool],
) -> list[Derivation]:
    """The ways to `chord` from the sources; only results that suit the player count."""
    best: dict[tuple[str, Frets], tuple[int, int]] = {}
    found: dict[tuple[str, Frets], list[Derivation]] = {}
    seen: set[tuple[str, Frets, Frets]] = set()
    for source in sorted(sources, key=lambda way: len(way.moves) + len(way.eased)):
        family = (source.family, source.frets)
        if (*family, source.result) in seen:
            continue
        seen.add((*family, source.result))
        for count, distance, way in _from(source, chord, instrument):
            effort = (count, distance)
            if (family in best and effort > best[family]) or not suits(way.result):
                continue
            if family not in best or effort < best[family]:
                best[family], found[family] = effort, []
            found[family].append(way)
    return [way for ways in found.values() for way in ways]


def _from(
    source: Derivation, chord: Chord, instrument: Instrument
) -> Iterator[tuple[int, int, Derivation]]:
    """Ways from one shape, fewer moves first, each with their number and how far they go."""
    frets = source.result
    opens = instrument.open_pitches
    strings = [string for string, fret in enumerate(frets) if fret is not None]
    wrong = {s for s in strings if chord.degree_of(opens[s] + (frets[s] or 0)) is None}
    for count in range(max(1, len(wrong)), MOST_MOVES + 1):
        for moved in combinations(strings, count):
            if not wrong <= set(moved):
                continue
            kept = {(opens[s] + (frets[s] or 0)) % 12 for s in strings if s not in moved}
            for goals in product(*(_goals(frets[s] or 0, s, chord, instrument) for s in moved)):
                sounding = kept | {(opens[s] + to) % 12 for s, to in zip(moved, goals, strict=True)}
                if chord.essential_pcs <= sounding:
                    moves = tuple(
                        _move(s, frets[s] or 0, to, chord, instrument)
                        for s, to in zip(moved, goals, strict=True)
                    )
                    yield count, sum(abs(move.frets) for move in moves), source.then(moves)


def _goals(fret: int, string: int, chord: Chord, instrument: Instrument) -> list[int]:
    """The frets that a note may go to."""
    low, high = max(0, fret - FARTHEST), min(instrument.frets, fret + FARTHEST)
    pitch = instrument.open_pitches[string]
    return [to for to in range(low, high + 1) if to != fret and chord.degree_of(pitch + to)]


def _move(string: int, fret: int, to: int, chord: Chord, instrument: Instrument) -> Move:
    pitch = instrument.open_pitches[string]
    after = chord.degree_of(pitch + to)
    assert after is not None
    before = chord.degree_of(pitch + fret) or _plain_degree((pitch + fret - chord.root.pc) % 12)
    return Move(string, to - fret, before, after)


def _plain_degree(semitones: int) -> str:
    """What a note that is no tone of the chord is called by its distance from the root."""
    return ("1", "b9", "9", "b3", "3", "4", "b5", "5", "#5", "6", "b7", "7")[semitones]
