"""The road map of an imported tune: endings, a coda, an intro, times through.

Conventions: the input is the sections in the order played, where each ending is a section of its
own ("A-1", see `is_ending`). A road map is accepted only when it leads through the same bars; else
a simpler one is tried, and the last choice is the plain order played. A passage that goes to the
coda once, and goes on with the same other section every other time, is joined with that section.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise, product

from accomp.intake.choruses import NO_CHORUSES_WRITTEN, WrittenChoruses, by_choruses
from accomp.time import USUAL_BPM
from accomp.tune.model import Bar, Repeat, Section, Tune
from accomp.tune.unfold import unfold


@dataclass(frozen=True)
class Road:
    """Sections and the way through them; see `accomp.tune.model.Tune`."""

    sections: Mapping[str, Section]
    form: tuple[str, ...]
    intro: str | int | None = None
    verse: tuple[str, ...] = ()
    coda: tuple[str, ...] = ()
    times: int | None = None

    @property
    def sounding(self) -> tuple[object, ...]:
        """Key, meter and chords of each bar in the order played, to compare two roads."""
        opening = next(iter(self.sections.values()))
        tune = self.laid_into(
            Tune(
                title="",
                key=opening.key,
                meter=opening.meter,
                tempo=USUAL_BPM,
                sections=self.sections,
                form=self.form,
            )
        )
        return tuple(
            (bar.key, bar.meter, tuple((item.chord, item.span) for item in bar.chords))
            for bar in unfold(tune, self.times or 1)
        )

    @property
    def written(self) -> int:
        """The number of bars on paper."""
        return sum(1 for one in self.sections.values() for _ in one.every_bar)

    def laid_into(self, tune: Tune) -> Tune:
        """The tune with this road map."""
        return replace(
            tune,
            sections=self.sections,
            form=self.form,
            intro=self.intro,
            verse=self.verse,
            coda=self.coda,
            times=self.times,
        )


@dataclass(frozen=True, slots=True)
class Marks:
    """Names of sections that the lead sheet marks ("" for none).

    `coda` begins the coda, `leaves` goes to it, and `form` begins the form that is played `times`.
    `ours`: the program itself made the file; there an intro may be the end of the form. `inside`
    are the sections that go on within a passage, and `choruses` the choruses that the page names;
    both are known for our own files only.
    """

    coda: str = ""
    leaves: str = ""
    form: str = ""
    times: int = 1
    ours: bool = False
    inside: frozenset[str] = frozenset()
    choruses: WrittenChoruses = NO_CHORUSES_WRITTEN


def is_ending(body: str, name: str) -> bool:
    """Whether a section is named as an ending of a passage: "A-1", "A-1+2"."""
    numbers = name.removeprefix(f"{body}-")
    return numbers != name and all(number.isdigit() for number in numbers.split("+"))


def is_numbered(mark: str, name: str) -> bool:
    """Whether a section's name is the mark of another and a number: "A 2"."""
    number = name.removeprefix(f"{mark} ")
    return number != name and number.isdigit()


def road_of(sections: Mapping[str, Section], form: Sequence[str], marks: Marks) -> Road:
    """The road map that leads through the same bars and needs the fewest bars on paper."""
    flat = Road(dict(sections), tuple(form))
    found = _put_together(flat, marks)
    for road in _by_choruses(flat, marks):
        if road.written < found.written and road.sounding == flat.sounding:
            found = road
    return _borrowed_intro(found, flat.sounding) if marks.ours else found


def _put_together(flat: Road, marks: Marks) -> Road:
    """The road that follows from the order of the sections alone."""
    played = flat.sounding
    for leaving, inside, endings, times in product((True, False), repeat=4):
        road = _leaving(flat, marks) if leaving else flat
        road = _inside(road, marks) if inside else road
        pairs = _passages(road) if endings else {}
        road = _set_apart(
            _without_endings(road, pairs), marks if times else replace(marks, times=1)
        )
        for found in _with_endings(flat, road, pairs):
            found = _only_used(found)
            if found.sounding == played:
                return found
    return flat


def _by_choruses(flat: Road, marks: Marks) -> Iterator[Road]:
    """Roads that follow from the choruses that the page names."""
    for one in by_choruses(flat.sections, flat.form, marks.choruses):
        before = one.before
        intro = before[0] if before and _is_intro(before[0], before) else None
        yield Road(
            sections=one.sections,
            form=one.form,
            intro=intro,
            verse=before if intro is None else before[1:],
            coda=one.after,
            times=marks.choruses.count if marks.choruses.count > 1 else None,
        )


def _is_intro(name: str, form: Sequence[str]) -> bool:
    return name.lower() == "intro" and form.count(name) == 1


def _leaving(road: Road, marks: Marks) -> Road:
    """The road with the passage that goes to the coda joined with the rest of it."""
    form = road.form
    before = form.index(marks.coda) - 1 if marks.coda in form else -1
    if before < 0:
        return road
    head = form[before]
    places = [at for at, name in enumerate(form[:before]) if name == head]
    rest = {form[at + 1] for at in places}
    if head != marks.leaves or len(rest) != 1:
        return road
    (tail,) = rest
    one, other = road.sections[head], road.sections[tail]
    if tail == head or is_ending(head, tail) or (one.key, one.meter) != (other.key, other.meter):
        return road
    whole = replace(one, bars=one.bars + other.bars, to_coda=len(one.bars))
    shorter = tuple(name for at, name in enumerate(form) if at - 1 not in places)
    return _one_name(replace(road, sections={**road.sections, head: whole}, form=shorter))


def _inside(road: Road, marks: Marks) -> Road:
    """The road with the sections of each passage joined into one, inner repeats kept."""
    groups: list[list[str]] = []
    for name in road.form:
        again = bool(groups) and groups[-1] == [name] * len(groups[-1])
        if groups and (name in marks.inside or again):
            groups[-1].append(name)
        else:
            groups.append([name])
    whole = {group[0]: group for group in groups if set(group) & marks.inside}
    if any(group[0] in whole and group != whole[group[0]] for group in groups):
        return road
    sections = dict(road.sections)
    form: list[str] = []
    for group in groups:
        if group[0] in whole:
            sections[group[0]] = _with_repeats(road, group)
            form.append(group[0])
        else:
            form += group
    return replace(road, sections=sections, form=tuple(form))


def _with_repeats(road: Road, group: Sequence[str]) -> Section:
    """One section of several in a row; a section that comes several times at once is repeated."""
    body = road.sections[group[0]]
    bars: tuple[Bar, ...] = ()
    repeats = []
    for name, run in groupby(group):
        times, own = len(list(run)), road.sections[name].bars
        if times > 1:
            repeats.append(Repeat(len(bars), len(bars) + len(own), times))
        bars += own
    return replace(body, bars=bars, repeats=tuple(repeats))


def _without(form: Sequence[str], names: set[str]) -> tuple[str, ...]:
    return tuple(name for name in form if name not in names)


def _one_name(road: Road) -> Road:
    """The road with "A 2" renamed to "A" where only endings or the way to the coda differ."""
    for name in road.sections:
        for other in road.sections:
            one, same = road.sections[name], road.sections[other]
            if not is_numbered(name, other) or _bars(one) != _bars(same):
                continue
            if one.endings or one.to_coda:
                continue
            form = tuple(name if played == other else played for played in road.form)
            sections = {**road.sections, name: replace(same, name=name)}
            return _one_name(_only_used(replace(road, sections=sections, form=form)))
    return road


def _bars(section: Section) -> object:
    """The music of a section the first time, without its places in the file."""
    bars = section.bars + (section.endings[0] if section.endings else ())
    return section.key, section.meter, [[(s.chord, s.span) for s in bar.chords] for bar in bars]


def _passages(road: Road) -> dict[str, list[str]]:
    """For each passage with endings, the ending that follows each time."""
    found = {}
    for name in road.sections:
        after = [b for a, b in pairwise((*road.form, "")) if a == name]
        ends = [other for other in road.form if is_ending(name, other)]
        if after and after == ends and all(is_ending(name, other) for other in after):
            body, shapes = road.sections[name], [road.sections[other] for other in after]
            if all((body.key, body.meter) == (end.key, end.meter) for end in shapes):
                found[name] = after
    return found


def _without_endings(road: Road, pairs: Mapping[str, list[str]]) -> Road:
    """The road whose form names passages only, without their endings."""
    return replace(road, form=_without(road.form, {end for ends in pairs.values() for end in ends}))


def _set_apart(road: Road, marks: Marks) -> Road:
    """The road divided into intro, verse, form with its times, and coda."""
    form = road.form
    coda: tuple[str, ...] = ()
    at = form.index(marks.coda) if marks.coda in form else 0
    if at and not set(form[at:]) & set(form[:at]):
        form, coda = form[:at], form[at:]
    intro = form[0] if _is_intro(form[0], form) else None
    if intro is not None and len(form) > 1:
        form = form[1:]
    else:
        intro = None
    verse: tuple[str, ...] = ()
    if marks.times > 1 and marks.form in form:
        at = form.index(marks.form)
        verse, rest = form[:at], form[at:]
        if not coda:
            rest, coda = _after_the_form(rest, marks.times)
        return replace(road, form=rest, intro=intro, verse=verse, coda=coda, times=marks.times)
    return replace(road, form=form, intro=intro, coda=coda)


def _after_the_form(rest: tuple[str, ...], times: int) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The form played `times` (written out), and the names after it."""
    for length in range(len(rest) // times, 0, -1):
        form, after = rest[: length * times], rest[length * times :]
        if form == rest[:length] * times and not set(after) & set(form):
            return form, after
    return rest, ()


def _with_endings(flat: Road, road: Road, pairs: Mapping[str, list[str]]) -> Iterator[Road]:
    """Roads with the endings put back into their passages.

    The last ending is tried as the ending for the last chorus and as a numbered one.
    """
    for last in (True, False) if pairs and (road.times or 1) > 1 else (False,):
        sections = dict(road.sections)
        for name, ends in pairs.items():
            sections[name] = _joined(flat, sections[name], ends, last=last)
        yield _folded(_one_name(replace(road, sections=sections)))
        yield _folded(replace(road, sections=sections))


def _joined(flat: Road, body: Section, ends: Sequence[str], *, last: bool) -> Section:
    """A passage with its endings, in the order played."""
    numbered = list(ends)
    final = numbered.pop() if last and len(numbered) > 1 else None
    while len(numbered) > 1 and numbered[-1] == numbered[-2]:
        numbered.pop()
    parts = tuple(flat.sections[end].bars for end in numbered)
    return replace(body, endings=parts, last=flat.sections[final].bars if final else ())


def _folded(road: Road) -> Road:
    """The road with the form named once; `times` is None where that is not possible."""
    times = road.times or 1
    length, over = divmod(len(road.form), times)
    if times == 1 or over or road.form != road.form[:length] * times:
        return replace(road, times=None)
    return replace(road, form=road.form[:length])


def _only_used(road: Road) -> Road:
    """The road without sections that are never played."""
    intro = (road.intro,) if isinstance(road.intro, str) else ()
    used = {*road.form, *road.verse, *road.coda, *intro}
    return replace(road, sections={n: one for n, one in road.sections.items() if n in used})


def _borrowed_intro(road: Road, played: tuple[object, ...]) -> Road:
    """The road whose intro is the last bars of the form, where that sounds the same."""
    if not isinstance(road.intro, str):
        return road
    bars = len(road.sections[road.intro].bars)
    other = _only_used(replace(road, intro=bars))
    return other if other.sounding == played else road
