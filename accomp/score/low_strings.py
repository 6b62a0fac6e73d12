"""Which strings a stroke on the low strings strikes, so that it goes with the bass.

Conventions: string indices as in a shape, 0 = the highest-numbered string; "low strings" are the
two lowest-numbered indices that sound (strings 4 and 3 of a banjo), three on instruments of more
than four strings. Common practice, no source: the low strings play root and fifth in turn. Under a
chord with a written bass the stroke begins with that note, on any string, or stays off the low
strings. Where a shape has neither root nor fifth on the low strings, the third is next best, and a
tone a step from the root is the worst.
"""

from __future__ import annotations

from collections.abc import Sequence

from accomp.harmony import Chord
from accomp.neck import Shape

ROOTS, FIFTHS, THIRDS = ("1",), ("5", "b5", "#5"), ("3", "b3", "4", "2")
_LOW_CHOICES = {"low1": 1, "low2": 2}
_FOUR = 4  # strings


def is_low(choice: str) -> bool:
    """Whether a choice of strings is one that keeps the bass: "low1" or "low2"."""
    return choice in _LOW_CHOICES


def low_strings(
    choice: str, chord: Chord, shape: Shape, sounding: Sequence[int], turn: int
) -> tuple[int, ...]:
    """The strings, rising, of the `turn`-th low stroke (from 0) on a chord: its root on even turns,
    its fifth on odd ones, as far as the low strings have them."""
    first = low_string(chord, shape, sounding, turn)
    index = list(sounding).index(first)
    return tuple(sounding[index : index + _LOW_CHOICES[choice]])


def low_string(chord: Chord, shape: Shape, sounding: Sequence[int], turn: int) -> int:
    """The string that is struck lowest by the `turn`-th low stroke on a chord."""
    count = 2 if len(shape.frets) <= _FOUR else 3
    low = list(sounding[:count])
    if chord.bass is not None:
        bass = [string for string in sounding if _pc(shape, string) == chord.bass.pc]
        return bass[0] if bass else _best(chord, shape, sounding[count:] or low)
    roots = [string for string in low if _degree(chord, shape, string) in ROOTS]
    fifths = [string for string in low if _degree(chord, shape, string) in FIFTHS]
    wanted, other = (roots, fifths) if turn % 2 == 0 else (fifths, roots)
    for strings in (wanted, other):
        if strings:
            return strings[0]
    return _best(chord, shape, sounding)


def grounded(chord: Chord, shape: Shape, sounding: Sequence[int]) -> tuple[int, ...]:
    """The strings of a stroke whose lowest note is heard as a bass: from the lowest string on that
    has the written bass, or the root, third or fifth."""
    pcs = {tone.pc for tone in chord.tones if tone.degree in (*ROOTS, *FIFTHS, *THIRDS)}
    if chord.bass is not None:
        pcs |= {chord.bass.pc}
    for index, string in enumerate(sounding):
        if _pc(shape, string) in pcs:
            return tuple(sounding[index:])
    return tuple(sounding)


def _best(chord: Chord, shape: Shape, strings: Sequence[int]) -> int:
    """The lowest string with a root, else fifth, else third, else any."""
    for degrees in (ROOTS, FIFTHS, THIRDS):
        for string in strings:
            if _degree(chord, shape, string) in degrees:
                return string
    return strings[0]


def _pc(shape: Shape, string: int) -> int:
    pitch = shape.pitches[string]
    assert pitch is not None, "the string sounds"
    return pitch % 12


def _degree(chord: Chord, shape: Shape, string: int) -> str:
    tone = chord.by_pc.get(_pc(shape, string))
    return tone.degree if tone else ""
