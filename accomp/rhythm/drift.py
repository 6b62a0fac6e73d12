"""How people's timing strays: slowly and quickly at once, and partly together.

What a person plays against a steady beat is early or late by a few thousandths of a second, and not
at random from note to note: a stretch played late goes on late for a while, at every length of
stretch alike (a spectrum near 1/f; Hennig et al., "The nature and perception of fluctuations in
human musical rhythms", PLoS ONE 6(10), 2011, e26457, who find such deviations of some 10 ms to be
liked better than random ones). People who play together stray together in part, and keep some
hundredths of a second apart (Rasch, "Synchronization in performed ensemble music", Acustica 43,
1979, 121-131: 30 to 50 ms in trios without a steady beat; much less with one). Both from memory;
`SHARED` and `MOST` are proposals.

A sum of random numbers, each held for twice as long as the next, has that spectrum (Voss's method,
in Gardner, Scientific American 238(4), 1978; from memory, held by a test). Nothing here keeps a
state. A bar added to another section changes nothing; one added earlier in the section moves the
later bars into other groups.

Conventions: a deviation has the standard deviation 1 and lies within `MOST` of nought.
"""

from __future__ import annotations

import math
from fractions import Fraction
from functools import lru_cache

from accomp.rhythm.feel import jitter

MOST = 2.5  # standard deviations
SHARED = 0.5  # of the variance, by everybody together
_UP_QUICKER = 0.85  # an up-stroke's time through the strings against a down-stroke's (a proposal)
_SPREAD_BY = 0.25  # a stroke's time through the strings differs by up to that
_GAP_BY = 0.4  # and the time from string to string


def drift(seed: int, who: str, address: str, moment: Fraction, bar: Fraction) -> float:
    """How late somebody is at `moment` (from the bar line) of the bar called `address`.

    `address` ends in the bar's number in its section, "1/A/1/5". `moment` and the length of a
    `bar` are in whole notes.
    """
    section, _, number = address.rpartition("/")
    count = int(number) if number.isdigit() else 0
    stretches = [(length, count // length) for length in (16, 8, 4, 2, 1)]
    levels = [_held(seed, who, section, *stretch) for stretch in stretches]
    for parts in (2, 4):
        levels.append(_held(seed, who, address, parts, int(moment / bar * parts)))
    levels.append(_held(seed, who, address, "moment", str(moment)))
    sigma = math.sqrt(len(levels) / 9)  # of the sum: one number's variance is 1/9
    return min(max(sum(levels) / sigma, -MOST), MOST)


@lru_cache(maxsize=8192)
def _held(seed: int, *names: object) -> float:
    return jitter(seed, *names)


def straying(seed: int, who: str, address: str, moment: Fraction, bar: Fraction) -> float:
    """How late a player of a band is: in part with everybody, in part by themselves."""
    together = drift(seed, "everybody", address, moment, bar)
    alone = drift(seed, who, address, moment, bar)
    both = math.sqrt(SHARED) * together + math.sqrt(1 - SHARED) * alone
    return min(max(both, -MOST), MOST)


def spread_factor(*, up: bool, seed: int, names: tuple[object, ...]) -> float:
    """A factor for a stroke's time through the strings."""
    return (_UP_QUICKER if up else 1.0) * (1 + _SPREAD_BY * jitter(seed, *names, "spread"))


def uneven(strings: int, seed: int, names: tuple[object, ...]) -> tuple[float, ...]:
    """When a stroke meets each of two or more strings, as shares of its whole time (0 to 1)."""
    gaps = [1 + _GAP_BY * jitter(seed, *names, "gap", order) for order in range(1, strings)]
    met, times = 0.0, [0.0]
    for gap in gaps:
        met += gap
        times.append(met)
    return tuple(time / met for time in times)
