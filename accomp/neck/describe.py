"""Shapes, positions and keys as plain dicts for JSON.

Conventions: other people's scripts rely on the keys. A null fret is a string that is not sounded.
Lengths are rounded to 0.1 mm and costs to 0.001.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from accomp.harmony import Chord, Key, Pitch
from accomp.neck.cost import CostModel, shift_mm
from accomp.neck.fingers import FingerMove, held_strings
from accomp.neck.handout import Handout, handouts
from accomp.neck.instrument import Instrument
from accomp.neck.inversions import inversions
from accomp.neck.keys import KeyPositions
from accomp.neck.learn_next import NextFamily
from accomp.neck.lesson import ChangeLesson, Lesson, PositionLesson
from accomp.neck.naming import left_out
from accomp.neck.plan import Plan
from accomp.neck.shape import Shape
from accomp.neck.vocabulary import KnownShape
from accomp.neck.weights import Term

Place = tuple[int, float]  # bar and beat, from 1


def shape_dict(
    shape: Shape, chord: Chord, costs: CostModel, known: KnownShape | None = None
) -> dict[str, Any]:
    """One shape of a chord; `family` and `derivation` are null when the player does not know it."""
    terms = costs.shape_terms(shape, chord)
    if (known is None or known.new) and costs.weights.learning:
        terms["learning"] = costs.weights.learning
    return {
        "frets": list(shape.frets),
        "notes": [_note(pitch, chord) for pitch in shape.pitches],
        "degrees": list(shape.degrees),
        "top": shape.top,
        "open": shape.open,
        "rootless": shape.rootless,
        "inversion": shape in inversions(chord, costs.instrument, costs.hand),
        "left_out": list(left_out(shape.degrees, chord)),
        "barre": shape.barre,
        "fingers": list(shape.fingers),
        "stretch_mm": round(shape.stretch_mm, 1),
        "cost": round(sum(terms.values()), 3),
        "terms": _rounded(terms),
        "family": known.family if known is not None else None,
        "derivation": None if known is None else known.derivation.words(str(chord)),
    }


def shapes_dict(
    chord: Chord,
    shapes: Sequence[tuple[Shape, KnownShape | None]],
    costs: CostModel,
) -> dict[str, Any]:
    """All shapes of one chord, in the order given."""
    return {
        "chord": str(chord),
        "instrument": costs.instrument.name,
        "shapes": [shape_dict(shape, chord, costs, known) for shape, known in shapes],
    }


def positions_dict(
    tune: str,
    key: Key,
    lesson: Lesson,
    chords: Sequence[Chord],
    places: Sequence[Place],
    costs: CostModel,
) -> dict[str, Any]:
    """A tune's positions with everything that the lesson says."""
    pages = handouts(lesson, len(costs.instrument.strings), costs.hand.comfort_mm)
    return {
        "tune": tune,
        "key": str(key),
        "instrument": costs.instrument.name,
        "names": [
            {"chord": str(chord), "numeral": numeral, "spoken": said}
            for chord, numeral, said in lesson.names
        ],
        "positions": [
            _position(one, chords, places, costs) | {"handout": _handout(page)}
            for one, page in zip(lesson.positions, pages, strict=True)
        ],
    }


def _position(
    one: PositionLesson, chords: Sequence[Chord], places: Sequence[Place], costs: CostModel
) -> dict[str, Any]:
    plan = one.plan
    entry: dict[str, Any] = {
        "name": plan.name,
        "frets": list(plan.frets),
        "open": plan.open,
        "cost": round(plan.cost, 3),
        "terms": _rounded(plan.terms),
        "stretch_mm": round(plan.stretch_mm, 1),
    }
    if plan.one_shape:
        entry["shapes"] = {
            str(chord): list(shape.frets) for chord, shape in zip(chords, plan.path, strict=True)
        }
    entry["path"] = [
        {"bar": bar, "beat": _number(beat), "chord": str(chord), "frets": list(shape.frets)}
        for (bar, beat), chord, shape in zip(places, chords, plan.path, strict=True)
    ]
    entry["changes"] = _changes(plan, chords, places, costs)
    entry["families"] = list(one.families)
    entry["met_before"] = list(one.met)
    entry["new"] = list(one.new)
    entry["to_learn"] = [
        {str(chord): list(shape.frets) for chord, shape in uses if shape.grip == grip}
        for grip in plan.new
        for uses in [dict.fromkeys(zip(chords, plan.path, strict=True))]
    ]
    entry["learn_next"] = [_next(found) for found in one.learn_next]
    entry["lesson"] = {
        "shapes": [
            {
                "chord": str(shape.chord),
                "times": shape.times,
                **shape_dict(shape.shape, shape.chord, costs, shape.known),
                "family": shape.family,
                "met_before": [{"position": where, "chord": name} for where, name in shape.met],
            }
            for shape in one.shapes
        ],
        "changes": [_change(change, places, costs.instrument) for change in one.changes],
        "hardest": [
            {"from": str(change.from_chord), "to": str(change.to_chord)} for change in one.hardest
        ],
    }
    entry["proved"] = plan.proved
    entry["gap"] = round(plan.gap, 6)
    entry["notices"] = list(plan.notices)
    return entry


def _handout(page: Handout) -> dict[str, Any]:
    """The contents of a position's hand-out, in its order."""
    return {
        "grips": [
            {
                "places": [
                    {
                        "chords": [str(chord) for chord in place.chords],
                        "numbers": list(place.numbers),
                        "frets": list(place.shape.frets),
                    }
                    for place in grip.places
                ],
                "names": [name.words(str(name.chord)) for name in grip.names],
                "to_learn": grip.to_learn,
            }
            for grip in page.grips
        ],
        "changes": [page.change(one, str) for one in page.changes],
        "learn_next": [one.words for one in page.learn_next],
        "notes": list(page.notes),
    }


def _next(one: NextFamily) -> dict[str, Any]:
    return {
        "shapes": {str(chord): list(shape.frets) for chord, shape in one.shapes},
        "cost_less": round(one.cost, 3),
        "frets_less": one.frets,
        "shift_mm_less": round(one.shift_mm, 1),
        "changes": one.changes,
        "of": one.of,
        "words": one.words,
    }


def _changes(
    plan: Plan, chords: Sequence[Chord], places: Sequence[Place], costs: CostModel
) -> list[dict[str, Any]]:
    """Every change of the chorus in order, the one back to the beginning last."""
    count = len(plan.path)
    rows = []
    for index in [*range(1, count), 0]:
        here, there = plan.path[index - 1], plan.path[index]
        if here is there and chords[index - 1] == chords[index]:
            continue
        rows.append(
            {
                "from": str(chords[index - 1]),
                "to": str(chords[index]),
                "bar": places[index][0],
                "cost": round(costs.change(here, there), 3),
                "shift_mm": round(shift_mm(here, there, costs.instrument), 1),
                "held": [
                    costs.instrument.string_number(index) for index in held_strings(here, there)
                ],
            }
        )
    return rows


def _change(one: ChangeLesson, places: Sequence[Place], instrument: Instrument) -> dict[str, Any]:
    return {
        "from": str(one.from_chord),
        "to": str(one.to_chord),
        "from_frets": list(one.from_shape.frets),
        "to_frets": list(one.to_shape.frets),
        "bars": sorted({places[index][0] for index in one.places}),
        "cost": round(one.cost, 3),
        "terms": _rounded(one.terms),
        "shift_mm": round(one.shift_mm, 1),
        "held": [instrument.string_number(index) for index in one.held],
        "fingers": [_finger(move, instrument) for move in one.fingers],
    }


def _finger(move: FingerMove, instrument: Instrument) -> dict[str, Any]:
    return {
        "finger": move.finger,
        "does": move.does,
        "strings": [instrument.string_number(index) for index in move.strings],
        "from_fret": move.from_fret or None,
        "to_fret": move.to_fret or None,
        "from_fingers": list(move.from_fingers),
    }


def keys_dict(tune: str, instrument: Instrument, rows: Sequence[KeyPositions]) -> dict[str, Any]:
    """Which positions there are in each key."""
    return {
        "tune": tune,
        "instrument": instrument.name,
        "keys": [
            {
                "key": str(row.key),
                "positions": [
                    {
                        "name": one.plan.name,
                        "cost": round(one.plan.cost, 3),
                        "frets": list(one.plan.frets),
                        "highest_fret": one.plan.frets[1],
                        "stretch_mm": round(one.plan.stretch_mm, 1),
                        "open": one.plan.open,
                        "slid_from": None if one.slid_from is None else one.slid_from[0],
                        "slid_from_position": None if one.slid_from is None else one.slid_from[1],
                        "notices": list(one.plan.notices),
                    }
                    for one in row.positions
                ],
                "problem": row.problem or None,
            }
            for row in rows
        ],
    }


def _note(pitch: int | None, chord: Chord) -> str | None:
    """The name of a sounding note as the chord spells it."""
    if pitch is None:
        return None
    return str(Pitch.spelled(pitch, chord.by_pc[pitch % 12].spelling))


def _rounded(terms: Mapping[Term, float]) -> dict[str, float]:
    return {name: round(value, 3) for name, value in terms.items()}


def _number(value: float) -> float | int:
    return int(value) if value == int(value) else round(value, 4)
