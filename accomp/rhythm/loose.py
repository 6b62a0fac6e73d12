"""Small differences from stroke to stroke, the same every time for one seed and place.

Conventions: a place is any sequence of words and numbers that names where something happens, chosen
so that adding a bar elsewhere does not change it (chorus, section, bar of the section, time in the
bar). Nothing here keeps a state.
"""

from __future__ import annotations

from hashlib import blake2b


def _number(seed: int, place: tuple[object, ...]) -> int:
    """64 bits that depend on seed and place only."""
    text = "\x1f".join([str(seed), *(str(part) for part in place)])
    return int.from_bytes(blake2b(text.encode(), digest_size=8).digest(), "big")


def weight(below: int, seed: int, *place: object) -> int:
    """A whole number from 0 up to, and without, `below`."""
    return _number(seed, place) % below


def loose(seed: int, *place: object) -> float:
    """A number from -1 to 1, most often near 0: the mean of three even ones."""
    number = _number(seed, place)
    parts = [(number >> shift) & 0x1FFFFF for shift in (0, 21, 42)]
    return sum(parts) / (1.5 * 0x1FFFFF) - 1.0
