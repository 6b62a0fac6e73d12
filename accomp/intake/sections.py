"""The sections of an imported tune: their bars, names and order.

Conventions: a section is a run of bars that is always played through. Two runs of the same chords
are one section, played twice. A rehearsal mark names its section. Sections without a mark are "A",
"B", ... in the order played; a first section without chords is "Intro" when others follow. The name
of an ending is that of the passage before it and its number: "A-1". Equal bars have one name,
unless marks say otherwise.

Endings with the same chords make no difference to somebody who plays chords. A passage and its
endings are rejoined under the passage's name when one of its endings always follows it, all these
endings have the same bars, and none of them is played without the passage. A later section of the
same mark was numbered ("A 2") because it was longer than the passage alone; when it equals the
rejoined section, it takes that name, too.
"""

from __future__ import annotations

import string
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from accomp.files.text import one_line
from accomp.harmony import NO_CHORD, Chord
from accomp.intake.choruses import NO_CHORUSES_WRITTEN, WrittenChoruses
from accomp.intake.layout import FormLayout, bar_of, chord_of
from accomp.intake.roads import Marks, Road, is_ending, is_numbered, road_of
from accomp.intake.written import WrittenBar, WrittenTune
from accomp.tune.model import Bar, ChordSpan, Section
from accomp.tune.read import TUNE_KEYS

_LONGEST = 30  # characters of a rehearsal mark that are kept


def sections_of(written: WrittenTune, played: Sequence[FormLayout]) -> Road:
    """Sections by name, in the order first played, and the way through them."""
    made: dict[int, tuple[Bar, ...]] = {}
    entered: dict[int, Chord | None] = {}
    before: Chord | None = None
    for layout in played:
        before = _after_pickup(layout, before)
        if not layout.bars:
            continue
        if layout.first not in made:
            entered[layout.first] = before
            made[layout.first] = _bars(written, layout, before)
        elif before != entered[layout.first] and _goes_on(layout):
            written.notice(
                layout.bars[0].number,
                f"{entered[layout.first] or NO_CHORD} goes on into it the first time and "
                f"{before or NO_CHORD} later; the first is kept",
            )
        before = made[layout.first][-1].chords[-1].chord
    names = _names(written.bars, [layout for layout in played if layout.bars], made)
    sections: dict[str, Section] = {}
    for layout in played:
        if layout.bars and names[layout.first] not in sections:
            name = names[layout.first]
            key = written.bars[layout.first].key
            sections[name] = Section(name, made[layout.first], key, layout.meter)
    order = [names[layout.first] for layout in played if layout.bars]
    road = road_of(*rejoined(sections, order), _marks(written, names))
    if _written_out(written, road):
        written.say("its endings and jumps are written out in the order played")
    return road


def _marks(written: WrittenTune, names: Mapping[int, str]) -> Marks:
    """The names of sections that words and signs of the lead sheet point at."""
    bars = written.bars
    coda = next((names[at] for at in names if bars[at].signs.coda), "")
    form = next((at for at in names if bars[at].signs.through), None)
    through = bars[form].signs.through if form is not None else 1
    inside = [name for at, name in names.items() if not (_mark(bars[at]) or bars[at].endings)]
    leaving = next((at for at, bar in enumerate(bars) if bar.signs.to_coda), -1)
    return Marks(
        coda=coda,
        leaves=names.get(max((at for at in names if at <= leaving), default=-1), ""),
        form="" if form is None else names[form],
        times=through,
        ours=written.ours,
        inside=frozenset(inside if written.ours else ()),
        choruses=_written_choruses(bars, names) if written.ours else NO_CHORUSES_WRITTEN,
    )


def _written_choruses(bars: Sequence[WrittenBar], names: Mapping[int, str]) -> WrittenChoruses:
    """The choruses that a file of our own marks."""
    marks = {name: "" if bars[at].endings else _mark(bars[at]) for at, name in names.items()}
    signs = [bar.signs for bar in bars]
    begins = next((at for at in names if max(signs[at].chorus, signs[at].through) > 1), None)
    if begins is None:
        opening = next((name for name in marks if name.lower() != "intro"), "")
        return WrittenChoruses(opening, 1, marks)
    jumps = any(one.jump for one in signs)  # the last chorus is the one after the jump back
    choruses = signs[begins].through or max(one.chorus for one in signs) + jumps
    return WrittenChoruses(names[begins], choruses, marks)


def _written_out(written: WrittenTune, road: Road) -> bool:
    """Whether the lead sheet has endings or a coda that the road map does not keep as such."""
    endings = any(bar.endings for bar in written.bars)
    kept = any(one.endings for one in road.sections.values())
    names = list(road.sections)
    apart = any(is_ending(body, name) for body in names for name in names)
    signs = [bar.signs for bar in written.bars]
    leaves = any(one.to_coda for one in signs) and any(one.coda for one in signs)
    return (endings and apart and not kept) or (leaves and not road.coda)


def _goes_on(layout: FormLayout) -> bool:
    """Whether the chord before a segment goes on into it."""
    chords = layout.bars[0].chords
    return not chords or min(chord.onset for chord in chords) > 0


def _after_pickup(layout: FormLayout, before: Chord | None) -> Chord | None:
    """The chord that sounds when the first full bar begins: the one over its pickup, if any."""
    if layout.pickup_chord is None:
        return before
    return chord_of("", layout.pickup_chord.symbol, lambda number, text: None)


def _bars(written: WrittenTune, layout: FormLayout, before: Chord | None) -> tuple[Bar, ...]:
    bars: list[Bar] = []
    for full in layout.bars:
        bar = bar_of(full, layout.meter, before, written.notice)
        before = bar.chords[-1].chord
        bars.append(bar)
    return tuple(bars)


def _names(
    bars: Sequence[WrittenBar], played: Sequence[FormLayout], made: Mapping[int, tuple[Bar, ...]]
) -> dict[int, str]:
    """The name of each segment, by the index of its first bar."""
    names: dict[int, str] = {}
    known: dict[object, str] = {}
    taken: dict[str, object] = {}
    letters = _letters({_mark(bars[layout.first]) for layout in played})
    body = ""
    for number, layout in enumerate(played):
        if layout.first in names:
            body = _body(bars, layout, names, body)
            continue
        content = (layout.meter, bars[layout.first].key, made[layout.first])
        mark = _mark(bars[layout.first])
        endings = bars[layout.first].endings
        if mark:
            name = _free(mark, content, taken)
        elif endings and body:
            numbers = "+".join(str(ending) for ending in sorted(endings))
            name = _free(f"{body}-{numbers}", content, taken)
        elif content in known:
            name = known[content]
        elif number == 0 and _silent(made[layout.first]) and len(played) > 1:
            name = _free("Intro", content, taken)
        else:
            name = next(letters)
        taken[name] = content
        known.setdefault(content, name)
        names[layout.first] = name
        body = _body(bars, layout, names, body)
    return names


def _body(
    bars: Sequence[WrittenBar], layout: FormLayout, names: Mapping[int, str], body: str
) -> str:
    """Name of the passage whose endings may follow: of the last segment that is no ending."""
    return body if bars[layout.first].endings else names[layout.first]


def _mark(bar: WrittenBar) -> str:
    """The rehearsal mark of a bar as a section's name, "" without one; a coda sign is one, too."""
    text = " ".join(one_line(bar.signs.mark or ("Coda" if bar.signs.coda else "")).split())
    text = text[:_LONGEST].strip()
    return text.capitalize() if text in TUNE_KEYS else text


def _free(name: str, content: object, taken: Mapping[str, object]) -> str:
    """`name`, with a number after it when a section of other content has this name."""
    candidate, number = name, 1
    while candidate in taken and taken[candidate] != content:
        number += 1
        candidate = f"{name} {number}"
    return candidate


def _letters(marks: set[str]) -> Iterator[str]:
    """A, B, ... Z, A2, ... without those that are rehearsal marks."""
    number = 1
    while True:
        for letter in string.ascii_uppercase:
            name = letter if number == 1 else f"{letter}{number}"
            if name not in marks:
                yield name
        number += 1


def _silent(bars: tuple[Bar, ...]) -> bool:
    return all(span.chord is None for bar in bars for span in bar.chords)


def rejoined(
    sections: Mapping[str, Section], form: Sequence[str]
) -> tuple[dict[str, Section], tuple[str, ...]]:
    """Sections and form, with each passage joined to its endings where these do not differ."""
    out, order = dict(sections), tuple(form)
    for name in sections:
        if name not in out:
            continue
        followers = [
            order[index + 1] if index + 1 < len(order) else ""
            for index, played in enumerate(order)
            if played == name
        ]
        endings = tuple(dict.fromkeys(followers))
        if not endings or not all(is_ending(name, other) for other in endings):
            continue
        first = out[endings[0]]
        if any(_sound(out[other]) != _sound(first) for other in endings):
            continue
        if sum(played in endings for played in order) != len(followers):
            continue
        body = out[name]
        if (body.key, body.meter) != (first.key, first.meter):
            continue
        out[name] = replace(body, bars=body.bars + first.bars)
        order = tuple(played for played in order if played not in endings)
        for other in endings:
            del out[other]
        same = [
            other
            for other in out
            if is_numbered(name, other) and _sound(out[other]) == _sound(out[name])
        ]
        order = tuple(name if played in same else played for played in order)
        for other in same:
            del out[other]
    return out, order


def _sound(section: Section) -> object:
    """The music of a section without its places in the file, to compare sections."""
    return section.key, section.meter, tuple(map(_chords, section.bars))


def _chords(bar: Bar) -> tuple[object, ...]:
    def plain(span: ChordSpan) -> tuple[object, ...]:
        return span.chord, span.span, span.written

    return tuple(map(plain, bar.chords))
