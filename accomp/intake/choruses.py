"""The road map of a file of our own whose choruses are written out ("Chorus 2") and differ.

Conventions: as in `accomp.intake.roads`; names are those of the sections in the order played. The
bars that a section of the form has every time are its body, the bars that differ are its endings.
The last time may be left for the coda: then only the bars played of it count.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain, takewhile

from accomp.tune.model import Bar, Section

_MOST_AFTER = 4  # sections after the form that are tried
NamedSection = tuple[str, Section]  # a section's name in the tune, and the bars played under it


@dataclass(frozen=True, slots=True)
class WrittenChoruses:
    """The choruses that the printed words name.

    `opening` is the section that begins each chorus ("" when unknown), `count` the number of
    choruses, `marks` the rehearsal mark of each section ("" for one that goes on within a passage).
    """

    opening: str = ""
    count: int = 1
    marks: Mapping[str, str] = field(default_factory=dict)


NO_CHORUSES_WRITTEN = WrittenChoruses()


@dataclass(frozen=True, slots=True)
class ChorusForm:
    """A tune with one form for all choruses: its sections, and their names before, in and after the
    form."""

    sections: dict[str, Section]
    before: tuple[str, ...]
    form: tuple[str, ...]
    after: tuple[str, ...]


def by_choruses(
    sections: Mapping[str, Section], form: Sequence[str], written: WrittenChoruses
) -> Iterator[ChorusForm]:
    """Ways to write the tune with one form for all its choruses."""
    if written.opening not in form:
        return
    passages = _passages(sections, form, written.marks)
    first = written.marks[written.opening]
    marks = [mark for mark, _ in passages]
    starts = [at for at, mark in enumerate(marks) if mark == first]
    if not first or len(starts) < written.count:
        return
    lengths = [at - starts[0] for at in starts[1:]]
    if written.count == 1:  # all there is, but for a few at the end
        lengths = [len(marks) - starts[0] - after for after in range(_MOST_AFTER + 1)]
    for length in lengths:
        if length < 1:
            return
        found = _chorus_form(passages, starts[0], length, written.count)
        if found is not None:
            yield found


def _passages(
    sections: Mapping[str, Section], form: Sequence[str], marks: Mapping[str, str]
) -> list[NamedSection]:
    """The passages in the order played; all bars under one rehearsal mark are one passage."""
    found: list[NamedSection] = []
    for name in form:
        one = sections[name]
        if marks.get(name) or not found:
            found.append((marks.get(name) or name, one))
            continue
        mark, before = found[-1]
        if (before.key, before.meter) != (one.key, one.meter):
            found.append((name, one))
        else:
            found[-1] = mark, replace(before, bars=before.bars + one.bars)
    return found


def _chorus_form(
    passages: Sequence[NamedSection], start: int, length: int, times: int
) -> ChorusForm | None:
    """The tune with `times` choruses of `length` passages each (the last one may be shorter).

    None when the passages are no such choruses.
    """
    names = [name for name, _ in passages]
    form = names[start : start + length]
    rounds = [
        passages[at : at + length] for at in range(start, start + length * (times - 1) + 1, length)
    ]
    last = list(takewhile(lambda pair: pair[0][0] == pair[1], zip(rounds[-1], form, strict=False)))
    rounds[-1] = [passage for passage, _ in last]
    if not last or any([name for name, _ in one] != form for one in rounds[:-1]):
        return None
    end = start + length * (times - 1) + len(last)
    outside = [*passages[:start], *passages[end:]]
    if any(name in form for name, _ in outside):
        return None
    sections: dict[str, Section] = {}
    for name, one in outside:
        if sections.setdefault(name, replace(one, name=name)).bars != one.bars:
            return None
    counts = Counter(form)
    for name in dict.fromkeys(form):
        made = _joined(name, [[s for n, s in one if n == name] for one in rounds], counts[name])
        if made is None:
            return None
        sections[name] = made
    order = dict.fromkeys([*names[:start], *form, *names[end:]])
    ordered = {name: sections[name] for name in order}
    return ChorusForm(ordered, tuple(names[:start]), tuple(form), tuple(names[end:]))


def _joined(name: str, rounds: Sequence[Sequence[Section]], in_form: int) -> Section | None:
    """One section with endings for all sections played under its name, None when there is none."""
    every = list(chain.from_iterable(rounds))
    *others, final = every
    if any((one.key, one.meter) != (final.key, final.meter) for one in others):
        return None
    if not others or all(one.bars == final.bars for one in others):
        return replace(final, name=name)
    plain = replace(others[0], name=name)
    cut = len(final.bars)
    if all(one.bars[:cut] == final.bars for one in others):
        plain = replace(plain, to_coda=cut)
        every = others
        if all(one.bars == plain.bars for one in others):
            return plain
    common = _common([one.bars for one in every])  # at least the bars before `to_coda`
    if common == 0:
        return None
    times = [
        (number if in_form == 1 else place, one.bars[common:])
        for number, one_round in enumerate(rounds)
        for place, one in enumerate(one_round)
    ][: len(every)]
    rest = times.pop()[1] if plain.to_coda is None else None
    ends: dict[int, tuple[Bar, ...]] = {}
    for time, bars in times:
        if ends.setdefault(time, bars) != bars:
            return None
    endings = [ends[time] for time in sorted(ends)]
    while len(endings) > 1 and endings[-1] == endings[-2]:
        endings.pop()
    if not all(endings) or rest == ():
        return None
    last = () if rest is None or rest == endings[-1] else rest
    return replace(plain, bars=plain.bars[:common], endings=tuple(endings), last=last)


def _common(rows: Sequence[tuple[Bar, ...]]) -> int:
    """How many bars all rows begin with alike."""
    alike = takewhile(lambda column: len(set(column)) == 1, zip(*rows, strict=False))
    return sum(1 for _ in alike)
