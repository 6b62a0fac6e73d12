"""A named chord after alterations: its tones, and which of them matter.

Conventions: a chord in the making keeps its essential tones from the most telling down, at most
four of them (the strings of a banjo), and its other tones from the one missed least.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from accomp.harmony.degree import Degree
from accomp.harmony.suffix import UnreadSuffix, read_suffix
from accomp.harmony.table import Change, KindRow, chord_table

MOST_ESSENTIAL = 4  # more could not sound together on four strings
_ROOT, _FIFTH = Degree(1), Degree(5)


class ConflictError(ValueError):
    """An alteration that has nothing to alter; `index` says which one."""

    def __init__(self, index: int, reason: str) -> None:
        self.index = index
        super().__init__(reason)


@dataclass(frozen=True, slots=True)
class ChordContent:
    """The tones of a chord: MusicXML `kind` to write it as, `degrees`, `essential`, `drop`."""

    kind: str
    degrees: tuple[Degree, ...]
    essential: tuple[Degree, ...]
    drop: tuple[Degree, ...]


def altered(row: KindRow, changes: Iterable[Change], *, vague: bool = False) -> ChordContent:
    """The chord `row` with `changes` made in order. Raises `ConflictError`.

    `vague`: the row was named in a way that lets changes name its own alterations again.
    """
    tones = list(row.degrees)
    essential = list(row.essential)
    named: list[Degree] = []  # what the symbol asks for beyond the row's own essential tones
    # An altered degree is not altered again: another of its number is added beside it.
    made = set() if vague else {degree for degree in row.degrees if degree.alter}
    kind = row.kind
    left_out = False
    for index, change in enumerate(changes):
        if change.does == "leave":
            _leave(tones, essential, change.degree, index)
            left_out = True
            continue
        if change.does == "instead":
            kind = _suspend(tones, essential, change.degree, index)
            continue
        old = [tone for tone in tones if tone.number == change.degree.number]
        if change.does == "add" and old:
            raise ConflictError(index, f"the chord has a {old[0]} already")
        if change.does == "set" and change.degree in old and not vague:
            raise ConflictError(index, f"the chord has a {change.degree} already")
        if change.does == "set" and old and old[0] not in made:
            _replace(tones, essential, old[0], change.degree)
        else:
            tones.append(change.degree)
        if change.degree not in essential:
            named.append(change.degree)
        made.add(change.degree)
        _no_pair(tones, change.degree, index)
    return _weighed(row, kind, tuple(sorted(tones)), essential, named, left_out)


def content_of(suffix: str) -> ChordContent | None:
    """The tones of a suffix; None when it cannot be read, or its alterations make no sense."""
    found = read_suffix(suffix)
    if isinstance(found, UnreadSuffix):
        return None
    try:
        return altered(found.row, found.changes, vague=found.vague)
    except ConflictError:
        return None


def _replace(tones: list[Degree], essential: list[Degree], old: Degree, new: Degree) -> None:
    tones[tones.index(old)] = new
    if old in essential:
        essential[essential.index(old)] = new


def _leave(tones: list[Degree], essential: list[Degree], degree: Degree, index: int) -> None:
    old = [tone for tone in tones if tone.number == degree.number]
    if not old:
        raise ConflictError(index, f"the chord has no {degree} to leave out")
    if len(tones) == 2:
        raise ConflictError(index, "a single tone is no chord")
    for tone in old:
        tones.remove(tone)
        if tone in essential:
            essential.remove(tone)


def _suspend(tones: list[Degree], essential: list[Degree], degree: Degree, index: int) -> str:
    third = next((tone for tone in tones if tone.number == 3), None)
    if third is None:
        raise ConflictError(index, "the chord has no third for it to stand in for")
    if third.alter:
        raise ConflictError(
            index,
            "it stands in for a major third, and the chord has a minor one (Cm7sus4 is C7sus4)",
        )
    _replace(tones, essential, third, degree)
    _no_pair(tones, degree, index)
    return "suspended-fourth" if degree.number == 4 else "suspended-second"


def _no_pair(tones: list[Degree], new: Degree, index: int) -> None:
    """Refuse two names for one sound in one chord: a slip of the pen."""
    for tone in tones:
        if tone != new and (tone.semitones - new.semitones) % 12 == 0:
            raise ConflictError(index, f"{new} is the same sound as the {tone} already there")
    if tones.count(new) > 1:
        raise ConflictError(index, f"the chord has a {new} already")


def _weighed(
    row: KindRow,
    kind: str,
    tones: tuple[Degree, ...],
    essential: list[Degree],
    named: list[Degree],
    left_out: bool,
) -> ChordContent:
    """Essential tones and drop order: third and seventh, then what the symbol names.

    Common practice, no source: the plain fifth goes first, then the root, then an unnamed ninth,
    then named tensions beyond the fourth essential tone. A symbol that leaves a tone out wants all
    others.
    """
    known = chord_table().by_degrees.get(frozenset(tones))
    if known is not None:
        # A 7 with b9 and so on never lands here; m7 with b5 does, and is a half-diminished.
        return ChordContent(known.kind, known.degrees, known.essential, known.drop)
    third = any(tone.number in (2, 3, 4) for tone in essential)
    if named and third and not row.drop and _FIFTH in essential:
        essential.remove(_FIFTH)  # a triad with an added tone: the fifth makes room
        if _ROOT in essential and any(tone.number in (6, 7) for tone in named):
            essential.remove(_ROOT)  # and it is a sixth or seventh chord now, the root may go too
    essential += [tone for tone in named if tone not in essential]
    if left_out:
        essential += [tone for tone in (_ROOT, *tones) if tone in tones and tone not in essential]
    kept = tuple(dict.fromkeys(essential))[:MOST_ESSENTIAL]
    rest = [tone for tone in tones if tone not in kept]
    order = (_FIFTH, _ROOT, *(t for t in rest if t not in named), *reversed(named), *reversed(rest))
    drop = tuple(dict.fromkeys(tone for tone in order if tone in rest))
    return ChordContent(kind, tones, kept, drop)
