"""Endings that have the same chords are no endings to somebody who plays chords.

Conventions: a passage and its endings are rejoined when every time it is played one of its endings
follows, these endings have the same bars, and none of them is played without it; the whole keeps
the passage's name. A later section of that mark that was numbered because it was longer than the
passage alone ("A 2") takes the name too when it is the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from accomp.tune.model import Bar, ChordSpan, Section


def rejoined(
    sections: Mapping[str, Section], form: Sequence[str]
) -> tuple[dict[str, Section], tuple[str, ...]]:
    """Sections and form, each passage in one piece with endings that do not differ."""
    out, order = dict(sections), tuple(form)
    for name in sections:
        if name not in out:
            continue
        followers = [
            order[place + 1] if place + 1 < len(order) else ""
            for place, played in enumerate(order)
            if played == name
        ]
        endings = tuple(dict.fromkeys(followers))
        if not endings or not all(_is_ending(name, other) for other in endings):
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
            if _numbered(name, other) and _sound(out[other]) == _sound(out[name])
        ]
        order = tuple(name if played in same else played for played in order)
        for other in same:
            del out[other]
    return out, order


def _is_ending(body: str, name: str) -> bool:
    numbers = name.removeprefix(f"{body}-")
    return numbers != name and all(number.isdigit() for number in numbers.split("+"))


def _numbered(mark: str, name: str) -> bool:
    number = name.removeprefix(f"{mark} ")
    return number != name and number.isdigit()


def _sound(section: Section) -> object:
    """What is played, without the places in the file."""
    return section.key, section.meter, tuple(map(_chords, section.bars))


def _chords(bar: Bar) -> tuple[object, ...]:
    def plain(span: ChordSpan) -> tuple[object, ...]:
        return span.chord, span.span, span.written

    return tuple(map(plain, bar.chords))
