"""The lesson sheet: positions side by side, what comes back, and the changes to drill.

Conventions: what is taught comes from the planner's lesson; here it is only laid out. Every
sentence is the planner's or made of its words.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from accomp.neck import Instrument
from accomp.neck.explain import CAUTION
from accomp.neck.lesson import ChangeLesson, Lesson, PositionLesson, recycled
from accomp.neck.naming import join, number_word
from accomp.score.arrangement import Arrangement
from accomp.score.readers import Reader
from accomp.write.page_text import chord_text
from accomp.write.pages import Pictures, Press
from accomp.write.sheet_tune import PagePlace, box_data, tune_data

_MOST_POSITIONS = 4  # side by side; more go to a second row of three


@dataclass(frozen=True)
class LessonText:
    """A lesson with what its page needs besides: the instrument and the hand's comfort in mm.

    `hardest` are the changes to drill of the position that is `played`.
    """

    lesson: Lesson
    instrument: Instrument
    comfort_mm: float
    played: str
    hardest: tuple[ChangeLesson, ...]


def lesson_page(
    arrangement: Arrangement,
    taught: LessonText,
    press: Press,
    place: PagePlace,
) -> dict[str, Any]:
    """The data of a lesson sheet."""
    lesson = taught.lesson
    positions = lesson.positions
    columns = len(positions) if len(positions) <= _MOST_POSITIONS else _MOST_POSITIONS - 1
    wide = any(one.plan.stretch_mm > taught.comfort_mm for one in positions)
    return {
        "kind": "lesson",
        "name": "Lesson",
        "first": place.first,
        "tune": tune_data(arrangement, press.text, place, Reader.CONCERT, own=True),
        "names-head": "Say the chords by their place in the key:",
        "names": [f"{chord_text(chord)} {said}" for chord, _, said in lesson.names],
        "columns": columns,
        "box-mm": 15.0 if columns < _MOST_POSITIONS else 12.2,
        "positions": [_position(one, press.pictures) for one in positions],
        "recycled-head": "One shape, several chords",
        "recycled": _recycled(lesson),
        "changes-head": "Drill first, to and fro, slowly, then in the tune",
        "changes": [_change(one, taught, press.pictures) for one in taught.hardest],
        "caution": CAUTION if wide else "",
    }


def _position(one: PositionLesson, pictures: Pictures) -> dict[str, Any]:
    low, high = one.plan.frets
    kind = "open strings" if one.plan.open else "closed, slides and chokes"
    said = [f"{number_word(len(one.families)).capitalize()} families: {', '.join(one.families)}."]
    if one.met:
        new = ", ".join(one.new) if one.new else "none"
        said.append(f"Met before: {', '.join(one.met)}. New: {new}.")
    return {
        "name": one.plan.name,
        "facts": f"frets {low} to {high}, {kind}",
        "boxes": box_data(((shape.chord, shape.shape) for shape in one.shapes), pictures),
        "said": said,
    }


def _recycled(lesson: Lesson) -> list[str]:
    """Which chords share a family, over all positions."""
    return [
        f"{name}: {join([f'{chord_text(chord)} in {position}' for chord, position in users])}."
        for name, users in recycled(lesson)
    ]


def _change(one: ChangeLesson, taught: LessonText, pictures: Pictures) -> dict[str, Any]:
    names = f"{chord_text(one.from_chord)} to {chord_text(one.to_chord)} ({taught.played})"
    pairs = ((one.from_chord, one.from_shape), (one.to_chord, one.to_shape))
    return {
        "pictures": [row["picture"] for row in box_data(pairs, pictures)],
        "said": f"{names}: {one.words(len(taught.instrument.strings))}.",
    }
