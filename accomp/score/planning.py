"""From a tune to the chords that the neck is asked to plan, and back.

Conventions: the chords of one time through the form are a cycle. Where one time does not pass
through every bar, the cycle has as many times as it takes (`accomp.tune.planned_bars`). A chord
that is only held, or written again, is one chord. N.C. is no chord and separates nothing.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction

from accomp.errors import InputError, Problem
from accomp.harmony import Chord
from accomp.tune import PlayedBar, Tune, planned_bars


@dataclass(frozen=True)
class TuneChords:
    """What the planner needs of a tune.

    `chords` are the chords of one chorus where they change; `places[i]` is the bar (from 1) and
    the score time in that bar of the i-th; `spans[n][m]` is the index into `chords` for the m-th
    chord span of the n-th bar, None for N.C. `bars` are the bars themselves. `home` is the chord
    that names positions.
    """

    chords: tuple[Chord, ...]
    places: tuple[tuple[int, Fraction], ...]
    spans: tuple[tuple[int | None, ...], ...]
    home: Chord
    notices: tuple[str, ...]
    bars: tuple[PlayedBar, ...]


def tune_chords(tune: Tune) -> TuneChords:
    """The chord changes of a tune. Raises `InputError` when it has no chord."""
    bars = planned_bars(tune)
    chords: list[Chord] = []
    places: list[tuple[int, Fraction]] = []
    spans: list[tuple[int | None, ...]] = []
    lengths: Counter[Chord] = Counter()
    for bar in bars:
        row: list[int | None] = []
        for item in bar.chords:
            if item.chord is None:
                row.append(None)
                continue
            if item.written or not chords:
                lengths[item.chord] += 1
            if not chords or chords[-1] != item.chord:
                chords.append(item.chord)
                places.append((bar.number, item.span.start))
            row.append(len(chords) - 1)
        spans.append(tuple(row))
    if not chords:
        message = "the tune has no chord, only N.C."
        raise InputError(Problem(message, tune.file, hint="Write a chord symbol in a bar."))
    home, notices = _home(tune, chords, lengths)
    return TuneChords(tuple(chords), tuple(places), tuple(spans), home, notices, bars)


def _home(
    tune: Tune, chords: list[Chord], lengths: Counter[Chord]
) -> tuple[Chord, tuple[str, ...]]:
    """The commonest chord on the key's root (the earlier of equals); else the last chord."""
    on_root = [chord for chord in dict.fromkeys(chords) if chord.root.pc == tune.key.tonic.pc]
    if on_root:
        return max(on_root, key=lambda chord: lengths[chord]), ()
    notice = (
        f"No chord stands on {tune.key.tonic}, the root of the key: "
        f"positions are named after the last chord, {chords[-1]}."
    )
    return chords[-1], (notice,)
