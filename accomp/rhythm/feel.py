"""How playing departs from the paper: swing, and small differences from stroke to stroke (jitter).

Conventions: a *pair* is two notes written alike, usually two quavers in one quarter; a ratio is
the first to the second as played, 1.0 straight, 2.0 the triplet feel. Places in a pair run from 0
up to 1. The written rhythm is never changed.

Jitter is the same every time for one seed and the same names: any words and numbers that say
where something happens (chorus, section, bar of the section, time in the bar), chosen so that
adding a bar elsewhere does not change them. Nothing here keeps a state.
"""

from __future__ import annotations

from fractions import Fraction
from hashlib import blake2b

MOST_SWING = 3.5
# The paper of `ratio_by_tempo` finds soloists straighter than the cymbal, the more so the slower
# the tempo. That they reach the triplet feel at most is from memory of its second part; to use it
# as a limit is a proposal.
SOLOISTS_MOST = 2.0
_SLOW_BPM, _FAST_BPM = 120.0, 300.0


def ratio_by_tempo(quarters_bpm: float) -> float:
    """The ratio that drummers play at a tempo (quarters a minute).

    Friberg & Sundström, "Swing ratios and ensemble timing in jazz performance", Music Perception
    19(3), 2002, 333-349: about linear, from 3.5:1 near 120 to 1:1 near 300; held level outside.
    """
    share = (quarters_bpm - _SLOW_BPM) / (_FAST_BPM - _SLOW_BPM)
    return MOST_SWING + (1.0 - MOST_SWING) * min(max(share, 0.0), 1.0)


def swung(position: Fraction, ratio: float) -> float:
    """Where in its pair a note written at `position` (0 up to 1) is played.

    The middle of the pair moves to ratio / (ratio + 1); time on either side of it is stretched
    evenly, so that finer notes keep their order. Exact for 1.0.
    """
    if ratio == 1.0:
        return float(position)
    middle = ratio / (ratio + 1.0)
    share = float(position)
    if share <= 0.5:
        return share * 2.0 * middle
    return middle + (share - 0.5) * 2.0 * (1.0 - middle)


def swung_time(moment: Fraction, ratio: float, pair: Fraction) -> float:
    """Score time as played: `moment` (whole notes, from a bar line) warped inside its pair."""
    if ratio == 1.0:
        return float(moment)
    turn = moment // pair
    return (float(turn) + swung((moment - turn * pair) / pair, ratio)) * float(pair)


def _number(seed: int, names: tuple[object, ...]) -> int:
    """64 bits that depend on seed and names only."""
    text = "\x1f".join([str(seed), *(str(name) for name in names)])
    return int.from_bytes(blake2b(text.encode(), digest_size=8).digest(), "big")


def weight(below: int, seed: int, *names: object) -> int:
    """A whole number from 0 to `below` - 1."""
    return _number(seed, names) % below


def jitter(seed: int, *names: object) -> float:
    """A number from -1 to 1, most often near 0: the mean of three uniform ones."""
    number = _number(seed, names)
    parts = [(number >> shift) & 0x1FFFFF for shift in (0, 21, 42)]
    return sum(parts) / (1.5 * 0x1FFFFF) - 1.0
