"""Chords as MusicXML says them: a kind, and degrees that change it.

Conventions (MusicXML 4.0, `degree-alter`): of an added degree `alter` counts from a dominant
chord, so that an added 7 with alter 0 is the minor seventh; of an altered degree it counts from
what the kind has.
"""

from __future__ import annotations

from collections.abc import Iterable

from accomp.harmony.chord import Alteration, Chord
from accomp.harmony.degree import Degree
from accomp.harmony.table import chord_table


def alterations(kind: str, tones: Iterable[Degree]) -> tuple[Alteration, ...]:
    """The alterations that turn `kind` into a chord of `tones`."""
    row = chord_table().by_kind[kind]
    on_paper = {degree.number: degree for degree in (*row.degrees, *row.silent)}
    tones = tuple(tones)
    changes = []
    altered = set()
    for tone in tones:
        old = on_paper.get(tone.number)
        if old == tone:
            continue
        if old is not None and old not in tones and tone.number not in altered:
            altered.add(tone.number)
            changes.append(Alteration("alter", tone.number, tone.alter - old.alter))
        else:
            changes.append(Alteration("add", tone.number, tone.alter - _dominant(tone.number)))
    numbers = {tone.number for tone in tones}
    changes += [
        Alteration("subtract", degree.number, 0)
        for degree in row.degrees
        if degree.number not in numbers
    ]
    return tuple(changes)


def unsounded(chord: Chord) -> tuple[Alteration, ...]:
    """Degrees that the kind has on paper and the chord does not sound, as alterations that subtract
    them: the eleventh of a thirteenth chord."""
    sounding = {Degree.parse(tone.degree).number for tone in chord.tones}
    return tuple(
        Alteration("subtract", degree.number, 0)
        for degree in chord_table().by_kind[chord.kind].silent
        if degree.number not in sounding
    )


def tones_of_kind(kind: str, changes: Iterable[Alteration]) -> tuple[Degree, ...]:
    """The tones of `kind` with `changes`, low to high.

    Lenient where files in the wild are: altering what the kind does not have adds it, subtracting
    it does nothing. Raises `ValueError` for a kind that names no chord.
    """
    row = chord_table().by_kind.get(kind)
    if row is None and kind != "other":
        raise ValueError(f"{kind!r} is not the kind of a chord")
    # "other" is entirely made of added degrees.
    tones = list(row.degrees) if row else [Degree(1)]
    silent = row.silent if row else ()
    for change in changes:
        old = [tone for tone in tones if tone.number == change.degree]
        base = next(
            (tone.alter for tone in silent if tone.number == change.degree),
            _dominant(change.degree),
        )
        if change.action == "subtract":
            tones = [tone for tone in tones if tone.number != change.degree]
        elif change.action == "alter" and old:
            tones[tones.index(old[-1])] = Degree(change.degree, old[-1].alter + change.alter)
        else:
            tones.append(Degree(change.degree, base + change.alter))
    return tuple(sorted(set(tones)))


def _dominant(number: int) -> int:
    """The sign a degree has in a dominant chord: flat for the seventh, none for the others."""
    return -1 if number == 7 else 0
