"""Chord symbols at any place of a bar, put where a tune file can show them.

Conventions: a place that no number of tokens reaches goes to the nearest one that does, with a
notice; nothing is left out without one.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from accomp.errors import ChordError
from accomp.harmony import NO_CHORD, Chord, parse_chord
from accomp.time import Meter, Span
from accomp.tune.leadsheet.layout import FullBar
from accomp.tune.model import Bar, ChordSpan

Notice = Callable[[str, str], None]


def bar_of(bar: FullBar, meter: Meter, before: Chord | None, notice: Notice) -> Bar:
    """A bar of a tune: what sounded `before` it goes on up to its first chord symbol."""
    changes = _placed(bar, meter, notice)
    if not changes or changes[0][0] > 0:
        again = bool(changes) and changes[0][1] == before
        changes[: 1 if again else 0] = [(Fraction(0), before)]
    ends = [start for start, _ in changes[1:]] + [meter.bar]
    spans = [
        ChordSpan(chord, Span(start, end))
        for (start, chord), end in zip(changes, ends, strict=True)
    ]
    return Bar(tuple(spans))


def _placed(bar: FullBar, meter: Meter, notice: Notice) -> list[tuple[Fraction, Chord | None]]:
    """Chord changes at places that a row of tokens has, in order."""
    wanted = [(chord.onset, chord.symbol) for chord in sorted(bar.chords, key=lambda c: c.onset)]
    count = next(
        (share for share in meter.shares if all(_fits(at, meter.bar / share) for at, _ in wanted)),
        meter.shares[-1],
    )
    share = meter.bar / count
    changes: list[tuple[Fraction, Chord | None]] = []
    last = -1
    for at, symbol in wanted:
        name = symbol or NO_CHORD
        # the nearest token, of two equally near ones the earlier, never one that is taken
        token = max(int(-((share - 2 * at) // (2 * share))), last + 1)
        if token >= count:
            notice(bar.number, f"{name} on {_place(at, meter)} finds no room and is left out")
            continue
        if token * share != at:
            notice(
                bar.number,
                f"{name} on {_place(at, meter)} is moved to {_place(token * share, meter)}, the "
                "nearest place a tune file can show",
            )
        last = token
        chord = chord_of(bar.number, symbol, notice)
        if not (changes and changes[-1][1] == chord):  # the same chord again says nothing new
            changes.append((token * share, chord))
    return changes


def _fits(at: Fraction, share: Fraction) -> bool:
    return (at / share).denominator == 1


def _place(at: Fraction, meter: Meter) -> str:
    """Where in the bar, as the meter is counted: "2", "2 1/2"."""
    whole, part = divmod(at / meter.unit, 1)
    return f"{whole + 1} {part}" if part else f"{whole + 1}"


def chord_of(number: str, symbol: str | None, notice: Notice) -> Chord | None:
    """The chord of a symbol, None for N.C. and, with a notice, for what is no chord symbol."""
    if symbol is None:
        return None
    try:
        return parse_chord(symbol)
    except ChordError as error:
        notice(number, f"{error} Nobody plays there.")
        return None
