"""The lesson as lines of plain text: the hand-outs, or everything in full.

Conventions: `draw` turns boxes, each (title, frets, fingers), into lines of text; without it there
are only words. `bars[i]` is the bar of the i-th chord.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence

from accomp.files.text import word_list
from accomp.neck.bass import bass_has
from accomp.neck.fingering import Fingers, Frets
from accomp.neck.grip_names import TuneContext, grip_names, names_sentence
from accomp.neck.handout import CAUTION, DRILL_HEAD, NEXT_HEAD, Handout
from accomp.neck.instrument import Instrument
from accomp.neck.lesson import (
    ChangeLesson,
    Lesson,
    PositionLesson,
    ShapeLesson,
    recycled,
)
from accomp.neck.naming import left_out, number_word, ordinal
from accomp.neck.weights import Term

ShapeBox = tuple[str, Frets, Fingers]
Draw = Callable[[Sequence[ShapeBox]], list[str]]


def handout_lines(pages: Sequence[Handout], draw: Draw | None = None) -> list[str]:
    """The hand-outs, one after another."""
    lines: list[str] = []
    for page in pages:
        lines += ["", f"{page.title}: {page.facts}.", "", f"{page.grips_head}:", ""]
        places = [place for grip in page.grips for place in grip.places]
        if draw is not None:
            boxes = [(one.title(str), one.shape.frets, one.shape.fingers) for one in places]
            lines += [*draw(boxes), ""]
        lines += [f"  {grip.words(str)}" for grip in page.grips]
        if page.changes:
            lines += ["", f"{DRILL_HEAD}:"]
            lines += [f"  {page.change(one, str)}" for one in page.changes]
        if page.learn_next:
            lines += ["", f"{NEXT_HEAD}:", *(f"  {one.words}" for one in page.learn_next)]
        if page.notes:
            lines += ["", *page.notes]
    return [line.rstrip() for line in lines[1:]]


def explain(
    lesson: Lesson,
    instrument: Instrument,
    bars: Sequence[int],
    *,
    comfort_mm: float,
    draw: Draw | None = None,
) -> list[str]:
    """Everything that the lesson says, position by position."""
    lines = ["Say the chords by their place in the key:"]
    lines += [f"  {chord}: {said} ({numeral})" for chord, numeral, said in lesson.names]
    context = TuneContext(lesson.key, [chord for chord, _, _ in lesson.names])
    for one in lesson.positions:
        shapes = [line for shape in one.shapes for line in _shape(shape, context, draw)]
        lines += ["", *_position(one, shapes, instrument, bars, comfort_mm, draw)]
    lines += ["", *_recycled(lesson, draw)]
    return [line.rstrip() for line in lines]


def _position(
    one: PositionLesson,
    shapes: Sequence[str],
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
    lines += [f"  {line}" for line in shapes]
    lines += ["", *_families(one, draw)]
    lines += [f"  {family.words}" for family in one.learn_next]
    if plan.stretch_mm > comfort_mm:
        lines.append(f"  The widest stretch is {plan.stretch_mm:.0f} mm. {CAUTION}")
    lines += ["", "  Changes, the hardest first:"]
    for number, change in enumerate(one.changes, start=1):
        lines.append(f"  {number}. {_change(change, instrument, bars)}")
    if one.hardest:
        hardest = [f"{change.from_chord} to {change.to_chord}" for change in one.hardest]
        lines += ["", f"  Drill first: {word_list(hardest)}, to and fro, slowly, then in the tune."]
    lines += ["", f"  {_terms(plan.terms, plan.cost)}"]
    lines += [f"  {notice}" for notice in plan.notices]
    return lines


def _shape(one: ShapeLesson, context: TuneContext, draw: Draw | None) -> list[str]:
    times = {1: "once", 2: "twice"}.get(one.times, f"{number_word(one.times)} times")
    if one.known is None:
        how = f"{one.chord} {one.shape} is not made from your repertoire."
    else:
        how = one.known.derivation.words(str(one.chord))
    met = f" Met before as {_places(one.met)}." if one.met else ""
    without = left_out(one.shape.degrees, one.chord)
    more = f" It has {word_list(without)}." if without else ""
    if one.chord.bass is not None:  # without a slash, `left_out` has said it
        more += "".join(f" {words}" for words in bass_has([(one.chord, one.shape)]))
    names = [name.words(str(name.chord)) for name in grip_names(one.shape, [one.chord], context)]
    if len(names) > 1:
        more += f" {names_sentence(names)}"
    lines = [f"{how}{more} {times[0].upper()}{times[1:]}.{met}"]
    way = None if one.known is None else one.known.derivation
    if draw is not None and way is not None and (way.moves or way.eased):
        none = (0,) * len(way.frets)
        boxes = [(way.chord, way.frets, none), (str(one.chord), one.shape.frets, one.shape.fingers)]
        lines += [f"    {line}" for line in draw(boxes)]
    return lines


def _places(places: Sequence[tuple[str, str]]) -> str:
    return word_list([f"{chord} in {position}" for position, chord in places])


def _families(one: PositionLesson, draw: Draw | None) -> list[str]:
    """How many families there are, and each by its first shape: as a picture or by name."""
    first: dict[str, ShapeLesson] = {}
    for shape in one.shapes:
        first.setdefault(shape.family, shape)
    lines = []
    heads = [("Families", one.families), *([("New", one.new)] if one.met else [])]
    for head, families in heads:
        count = number_word(len(families)) if families else "none"
        named = f" ({', '.join(families)})" if families and draw is None else ""
        lines.append(f"  {head}: {count}{named}.")
        if families and draw is not None:
            boxes = [_box(first[family]) for family in families]
            lines += ["", *(f"  {line}" for line in draw(boxes)), ""]
    return lines


def _box(one: ShapeLesson, where: str = "") -> ShapeBox:
    return (f"{one.chord} {where}".strip(), one.shape.frets, one.shape.fingers)


def _change(one: ChangeLesson, instrument: Instrument, bars: Sequence[int]) -> str:
    strings = len(instrument.strings)
    where = sorted({bars[index] for index in one.places})
    text = (
        f"{one.from_chord} {one.from_shape} to {one.to_chord} {one.to_shape}, "
        f"bar{'s' if len(where) > 1 else ''} {', '.join(map(str, where))} (cost {one.cost:.1f}): "
        f"{one.words(strings)}"
    )
    if one.held:
        held = [ordinal(strings - index) for index in one.held]
        text += f". Sounding on: {word_list(held)} string{'s' if len(held) > 1 else ''}"
    return f"{text}."


def _terms(terms: Mapping[Term, float], cost: float) -> str:
    dearest = [(name, value) for name, value in Counter(terms).most_common() if value >= 0.05]
    parts = [f"{name.replace('_', ' ')} {value:.1f}" for name, value in dearest]
    return f"Cost {cost:.1f}: {', '.join(parts)}." if parts else f"Cost {cost:.1f}."


def _recycled(lesson: Lesson, draw: Draw | None) -> list[str]:
    """Which chords share a family, over all positions: the same grip in each of its places."""
    lines = []
    for family, users in recycled(lesson):
        if draw is None:
            lines.append(f"  {family}: {word_list([f'{one.chord} in {at}' for one, at in users])}")
        else:
            boxes = [_box(one, f"({at})") for one, at in users]
            lines += ["", *(f"  {line}" for line in draw(boxes))]
    return ["One shape, several chords:", *lines] if lines else ["No shape comes back."]
