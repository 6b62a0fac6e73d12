"""The lesson in words: lines of plain text.

Conventions: `draw` turns boxes, (title, frets, fingers) each, into lines of text; without it only
words come. `bars[i]` is the bar of the i-th chord.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence

from accomp.neck.fingering import Fingers, Frets
from accomp.neck.instrument import Instrument
from accomp.neck.lesson import (
    ChangeLesson,
    Lesson,
    PositionLesson,
    ShapeLesson,
    recycled,
)
from accomp.neck.naming import join, left_out, number_word, ordinal

Box = tuple[str, Frets, Fingers]
Draw = Callable[[Sequence[Box]], list[str]]

CAUTION = (
    "Go slowly into wide stretches and stop when the hand hurts; a teacher's or physiotherapist's "
    "word goes before this page."
)


def explain(
    lesson: Lesson,
    instrument: Instrument,
    bars: Sequence[int],
    *,
    comfort_mm: float,
    draw: Draw | None = None,
) -> list[str]:
    """The whole lesson, position by position."""
    lines = ["Say the chords by their place in the key:"]
    lines += [f"  {chord}: {said} ({written})" for chord, written, said in lesson.names]
    for one in lesson.positions:
        lines += ["", *_position(one, instrument, bars, comfort_mm, draw)]
    lines += ["", *_recycled(lesson)]
    return [line.rstrip() for line in lines]


def _position(
    one: PositionLesson,
    instrument: Instrument,
    bars: Sequence[int],
    comfort_mm: float,
    draw: Draw | None,
) -> list[str]:
    plan = one.plan
    low, high = plan.frets
    kind = "open strings" if plan.open else "closed: it slides to other keys and can be choked"
    lines = [f"{plan.name}, frets {low} to {high}, {kind}.", ""]
    if draw is not None:
        lines += [*draw([(str(s.chord), s.shape.frets, s.shape.fingers) for s in one.shapes]), ""]
    lines += [f"  {line}" for shape in one.shapes for line in _shape(shape, draw)]
    lines += ["", f"  {_families(one)}"]
    lines += [f"  {family.words}" for family in one.learn_next]
    if plan.stretch_mm > comfort_mm:
        lines.append(f"  The widest stretch is {plan.stretch_mm:.0f} mm. {CAUTION}")
    lines += ["", "  Changes, the hardest first:"]
    for number, change in enumerate(one.changes, start=1):
        lines += [f"  {number}. {line}" for line in _change(change, instrument, bars)]
    if one.hardest:
        hardest = [f"{change.from_chord} to {change.to_chord}" for change in one.hardest]
        lines += ["", f"  Drill first: {join(hardest)}, to and fro, slowly, then in the tune."]
    lines += ["", f"  {_terms(dict(plan.terms), plan.cost)}"]
    lines += [f"  {notice}" for notice in plan.notices]
    return lines


def _shape(one: ShapeLesson, draw: Draw | None) -> list[str]:
    times = {1: "once", 2: "twice"}.get(one.times, f"{number_word(one.times)} times")
    if one.known is None:
        how = f"{one.chord} {one.shape} is not made from your repertoire."
    else:
        how = one.known.derivation.words(str(one.chord))
    met = f" Met before as {_places(one.met)}." if one.met else ""
    without = left_out(one.shape.degrees, one.chord)
    more = f" It has {join(list(without))}." if without else ""
    lines = [f"{how}{more} {times[0].upper()}{times[1:]}.{met}"]
    way = None if one.known is None else one.known.derivation
    if draw is not None and way is not None and (way.moves or way.eased):
        none = (0,) * len(way.frets)
        boxes = [(way.chord, way.frets, none), (str(one.chord), one.shape.frets, one.shape.fingers)]
        lines += [f"    {line}" for line in draw(boxes)]
    return lines


def _places(places: Sequence[tuple[str, str]]) -> str:
    return join([f"{chord} in {position}" for position, chord in places])


def _families(one: PositionLesson) -> str:
    count = len(one.families)
    text = f"Families needed: {number_word(count)} ({', '.join(one.families)})."
    if one.met:
        text += f" Met before: {', '.join(one.met)}."
        text += f" New: {', '.join(one.new) if one.new else 'none'}."
    return text


def _change(one: ChangeLesson, instrument: Instrument, bars: Sequence[int]) -> list[str]:
    strings = len(instrument.strings)
    where = sorted({bars[place] for place in one.places})
    text = (
        f"{one.from_chord} {one.from_shape} to {one.to_chord} {one.to_shape}, "
        f"bar{'s' if len(where) > 1 else ''} {', '.join(map(str, where))} (cost {one.cost:.1f}): "
        f"{one.words(strings)}"
    )
    if one.held:
        held = [ordinal(strings - index) for index in one.held]
        text += f". Sounding on: {join(held)} string{'s' if len(held) > 1 else ''}"
    return [f"{text}."]


def _terms(terms: dict[str, float], cost: float) -> str:
    parts = [f"{name.replace('_', ' ')} {value:.1f}" for name, value in _dearest(terms)]
    return f"Cost {cost:.1f}: {', '.join(parts)}." if parts else f"Cost {cost:.1f}."


def _dearest(terms: dict[str, float]) -> list[tuple[str, float]]:
    return [(name, value) for name, value in Counter(terms).most_common() if value >= 0.05]


def _recycled(lesson: Lesson) -> list[str]:
    """Which chords share a family, over all positions."""
    again = [
        f"  {name}: {join([f'{chord} in {position}' for chord, position in users])}"
        for name, users in recycled(lesson)
    ]
    return ["One shape, several chords:", *again] if again else ["No shape comes back."]
