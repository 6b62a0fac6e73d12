"""Which fingers stop which strings: the rules, and the easiest way of several.

Conventions: frets and fingers run from the highest-numbered string to the first; fret `None` is a
string that is not sounded, 0 an open one; fingers are 1 (index) to 4 (little), 0 where none
stands. Distances are in mm along the string.

A *fingering* of a row of frets gives each fretted string one finger, so that

1. a finger stands at one fret only;
2. a lower fret has a lower finger;
3. at one fret, going from the highest-numbered string to the first, fingers never fall (the
   string nearer the ceiling has the lower finger; on a re-entrant ukulele too, where that string
   is not the lowest in pitch, because it is the hand's order that counts);
4. a finger that stops two or more strings lies across all strings between its outermost ones. Each
   of these must be stopped at its fret or higher, so that none is open or unsounded. Only over the
   index, which lies behind the others, may another finger stop a string: any other finger stops
   all strings that it lies over;
5. the outer fretted notes are at most the hand's greatest reach apart;
6. any two fingers i < j are at most (j - i) x neighbour x greatest reach apart.

A row of frets is *playable* when it has at least one fingering; with nothing fretted it has one.
Of several the *easiest* is kept, which is the same along the whole neck as long as the reach allows
it: the one with the least of

    2 x the sum, over neighbouring used fingers, of |frets apart - fingers apart|
    + 5 for each finger but the index that stops more than one string
    + 5 when the index stops more than one string and the next string after its last (toward the
      first) is sounded open, since the finger would have to arch over it

then the fewest fingers, then the lower fingers, string by string from the highest-numbered.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import pairwise

from accomp.neck.hand import Hand
from accomp.neck.instrument import Instrument

Frets = tuple[int | None, ...]
Fingers = tuple[int, ...]

_SPREAD, _LYING, _ARCHED = 2, 5, 5  # what makes a fingering harder, see above


def finger(frets: Frets, instrument: Instrument, hand: Hand) -> Fingers | None:
    """The easiest fingering of a row of frets on this neck for this hand, None without one."""
    fretted = [fret for fret in frets if fret]
    if not fretted:
        return (0,) * len(frets)
    if instrument.stretch_mm(fretted) > hand.greatest_mm:
        return None
    low, fret_mm = min(fretted), instrument.fret_mm
    relative = tuple(fret - low + 1 if fret else fret for fret in frets)
    for fingers, stops in fingerings(relative):
        if all(
            hand.may_span(b - a, fret_mm(fret_b + low - 1) - fret_mm(fret_a + low - 1))
            for (a, fret_a), (b, fret_b) in pairwise(stops)
        ):
            return fingers
    return None


def barre(frets: Frets, fingers: Fingers) -> int | None:
    """The lowest fret at which one finger stops two or more strings, None without one."""
    lying = [
        fret
        for index, (fret, one) in enumerate(zip(frets, fingers, strict=True))
        if one and fret and one in fingers[index + 1 :]
    ]
    return min(lying, default=None)


@lru_cache(maxsize=100_000)
def fingerings(
    relative: Frets,
) -> tuple[tuple[Fingers, tuple[tuple[int, int], ...]], ...]:
    """All fingerings by rules 1 to 4, easiest first, each with its (finger, fret) pairs.

    `relative` counts the lowest fretted fret as 1, so that one table serves the whole neck.
    Neighbouring used fingers are enough for rule 6: distances add up along the string.
    """
    found = []
    for fingers in _ordered(relative):
        stops = tuple(sorted({(one, fret) for one, fret in zip(fingers, relative) if one and fret}))  # noqa: B905
        found.append((_ease(relative, fingers, stops), fingers, stops))
    found.sort()
    return tuple((fingers, stops) for _, fingers, stops in found)


def _ordered(relative: Frets) -> Iterator[Fingers]:
    """Every assignment of fingers that keeps rules 1 to 4.

    Strings are visited fret by fret and at one fret toward the first string: the order in which
    fingers never fall.
    """
    order = sorted((fret, index) for index, fret in enumerate(relative) if fret)
    fingers = [0] * len(relative)

    def put(step: int, last_fret: int, last_finger: int) -> Iterator[Fingers]:
        if step == len(order):
            yield tuple(fingers)
            return
        fret, index = order[step]
        least = last_finger if fret == last_fret else last_finger + 1
        for one in range(least, 5):
            if one == last_finger and not _may_lie(relative, order[step - 1][1], index, one):
                continue
            fingers[index] = one
            yield from put(step + 1, fret, one)
        fingers[index] = 0

    yield from put(0, 0, 0)


def _may_lie(relative: Frets, start: int, end: int, one: int) -> bool:
    """Whether a finger on strings `start` and `end` may lie over those between."""
    fret = relative[end] or 0
    between = [relative[index] or 0 for index in range(start + 1, end)]
    return all(other >= fret if one == 1 else other == fret for other in between)


def _ease(
    relative: Frets, fingers: Fingers, stops: tuple[tuple[int, int], ...]
) -> tuple[int, int, Fingers]:
    """How hard a fingering is: the order at the top of this module, the easiest least."""
    hard = _SPREAD * sum(
        abs((fret_b - fret_a) - (b - a)) for (a, fret_a), (b, fret_b) in pairwise(stops)
    )
    for one, _ in stops:
        if fingers.count(one) < 2:
            continue
        last = len(fingers) - 1 - fingers[::-1].index(one)
        if one > 1:
            hard += _LYING
        elif last + 1 < len(relative) and relative[last + 1] == 0:
            hard += _ARCHED
    return hard, len(stops), fingers
