"""Every playable row of frets, found by trying them all: the definitions, and nothing else.

Written from the rules as stated, without anything from the neck room: equal temperament's frets,
the order of fingers, what a finger may lie across, reach over all and between any two fingers,
essential tones, unsounded strings outside. Slow on purpose.

Conventions: strings from the highest-numbered to the first; None = not sounded, 0 = open.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import combinations, pairwise, product


@dataclass(frozen=True)
class Neck:
    """Open strings as MIDI numbers, frets, scale in mm, least sounding strings, and the hand."""

    opens: tuple[int, ...]
    frets: int
    scale: float
    least: int
    greatest: float
    neighbour: float


def place(neck, fret):
    """mm from the nut: L (1 - 2^(-n/12)), equal temperament."""
    return neck.scale * (1 - 2 ** (-fret / 12))


def stopped_pairs(neck, frets):
    """What the rules say of any two stopped strings (s, t), whichever fingers are on them."""
    pairs = []
    for s, t in combinations([s for s, fret in enumerate(frets) if fret], 2):
        apart = abs(place(neck, frets[s]) - place(neck, frets[t]))
        free_between = all(fret and fret >= frets[s] for fret in frets[s + 1 : t])
        alike_between = all(fret == frets[s] for fret in frets[s + 1 : t])
        pairs.append((s, t, frets[s], frets[t], apart, free_between, alike_between))
    return pairs


def fingering_holds(neck, pairs, fingers):
    """Whether this assignment of fingers keeps every rule."""
    for s, t, fret_s, fret_t, apart, free_between, alike_between in pairs:
        finger_s, finger_t = fingers[s], fingers[t]
        if fret_s < fret_t and not finger_s < finger_t:
            return False
        if fret_s > fret_t and not finger_s > finger_t:
            return False
        if fret_s == fret_t and finger_s > finger_t:
            return False
        if finger_s == finger_t and not (free_between if finger_s == 1 else alike_between):
            return False
        if apart > neck.greatest:
            return False
        if apart > abs(finger_s - finger_t) * neck.neighbour * neck.greatest:
            return False
    return True


def hardness(frets, fingers):
    """The stated order of ease: less is easier."""
    used = sorted({finger for finger in fingers if finger})
    fret_of = {finger: frets[fingers.index(finger)] for finger in used}
    points = 0
    for a, b in pairwise(used):
        points += 2 * abs((fret_of[b] - fret_of[a]) - (b - a))
    for finger in used:
        on = [s for s in range(len(frets)) if fingers[s] == finger]
        if len(on) > 1 and finger > 1:
            points += 5
        if len(on) > 1 and finger == 1 and on[-1] + 1 < len(frets) and frets[on[-1] + 1] == 0:
            points += 5
    return points, len(used), fingers


@cache
def best_fingering(neck, frets):
    """The easiest of all 4^n assignments that hold, None when none does."""
    pairs = stopped_pairs(neck, frets)
    ways = [
        fingers
        for fingers in product(*[(1, 2, 3, 4) if fret else (0,) for fret in frets])
        if fingering_holds(neck, pairs, fingers)
    ]
    return min(ways, key=lambda fingers: hardness(frets, fingers), default=None)


def playable(neck, tones, essential, frets_allowed=None):
    """All playable rows of frets with their fingers, as a dict.

    `tones` and `essential` are sets of pitch classes; `frets_allowed` narrows the frets tried
    (None stays possible), all of the neck when not given.
    """
    allowed = range(neck.frets + 1) if frets_allowed is None else frets_allowed
    choices = [
        [None] + [fret for fret in allowed if (pitch + fret) % 12 in tones] for pitch in neck.opens
    ]
    found = {}
    for frets in product(*choices):
        sounding = [s for s, fret in enumerate(frets) if fret is not None]
        if len(sounding) < neck.least or sounding[-1] - sounding[0] != len(sounding) - 1:
            continue
        if not essential <= {(neck.opens[s] + frets[s]) % 12 for s in sounding}:
            continue
        fretted = [fret for fret in frets if fret]
        if fretted and place(neck, max(fretted)) - place(neck, min(fretted)) > neck.greatest:
            continue
        fingers = best_fingering(neck, frets)
        if fingers is not None:
            found[frets] = fingers
    return found
