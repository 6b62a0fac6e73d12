"""Which strings a stroke strikes, and in which order the plectrum meets them.

Conventions: string indices as in a shape, 0 = the highest-numbered string (nearest the player's
chin), the last = the first string, nearest the floor. A down-stroke meets them in that order, an
up-stroke the other way, whatever their pitches are.
"""

from __future__ import annotations

import re

_CHOICE = re.compile(r"all|inner|outer|(low|high|string)([1-9])")
# The words as a reader of a style file meets them; any count from 1 to 9 may follow.
CHOICES = ("all", "inner", "outer", "low1", "low2", "low3", "high1", "high2", "high3", "string1")


def is_choice(word: str) -> bool:
    """Whether a word names a choice of strings."""
    return _CHOICE.fullmatch(word) is not None


def choose_strings(
    choice: str, sounding: tuple[int, ...], direction: str, *, strings: int | None = None
) -> tuple[int, ...]:
    """Indices that a stroke strikes, in the order in which it meets them.

    `sounding` are the indices that the shape sounds, rising; `strings` how many the instrument has
    (taken as one more than the last sounding index when not given), which "string1" counts
    from. "low2" are the two highest-numbered sounding strings (all of them when there are fewer);
    "inner" leaves the two outermost out (both are kept when there are no others), "outer" strikes
    only those; a single string that the shape does not sound is replaced by the nearest one that
    it does. Raises `ValueError` for a word that is no choice.
    """
    match = _CHOICE.fullmatch(choice)
    if match is None:
        raise ValueError(
            f"{choice!r} is not a choice of strings: expected one of {', '.join(CHOICES)}"
        )
    if not sounding:
        return ()
    kind, number = match[1], int(match[2] or 0)
    if choice == "all":
        chosen = sounding
    elif choice == "inner":
        chosen = sounding[1:-1] or sounding
    elif choice == "outer":
        chosen = (sounding[0], sounding[-1]) if len(sounding) > 1 else sounding
    elif kind == "low":
        chosen = sounding[:number]
    elif kind == "high":
        chosen = sounding[-number:]
    else:
        last = sounding[-1] if strings is None else strings - 1
        wanted = last - (number - 1)
        chosen = (min(sounding, key=lambda index: (abs(index - wanted), index)),)
    return chosen if direction == "down" else chosen[::-1]
