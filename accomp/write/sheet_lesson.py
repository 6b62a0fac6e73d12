"""The lesson sheets: one page a position for a pupil to take home.

Conventions: the sentences of a page come from the planner's hand-out; here they are only laid out,
with the pictures. Chords are written as on the other pages.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from accomp.harmony import Chord
from accomp.neck import Instrument, Lesson, Shape
from accomp.neck.handout import DRILL_HEAD, NEXT_HEAD, Handout, handouts
from accomp.score.arrangement import Arrangement
from accomp.write.page_text import chord_text, sentence_text
from accomp.write.pages import PageMaterials
from accomp.write.sheet_signs import box_signs
from accomp.write.sheet_tune import PageAddress, box_data, tune_data


@dataclass(frozen=True)
class LessonText:
    """A lesson, and what else its pages need: the instrument and the hand's comfort in mm."""

    lesson: Lesson
    instrument: Instrument
    comfort_mm: float


def lesson_pages(
    arrangement: Arrangement, taught: LessonText, materials: PageMaterials, address: PageAddress
) -> Iterator[dict[str, Any]]:
    """The data of the lesson's pages; `address` is that of the first."""
    pages = handouts(taught.lesson, len(taught.instrument.strings), taught.comfort_mm)
    for number, page in enumerate(pages):
        at = address if not number else PageAddress(first=False)
        tune = tune_data(arrangement, materials.text, at, "concert", own=True)
        tune["facts"] = [taught.instrument.title]
        yield {
            "kind": "lesson",
            "name": f"Lesson: {page.plan.name}",
            "first": at.first,
            "tune": tune,
            "position": page.title,
            "facts": page.facts,
            "grips-head": page.grips_head,
            "grips": [
                _pictured(
                    materials,
                    grip.words(chord_text),
                    *((place.title(chord_text), place.shape) for place in grip.places),
                )
                for grip in page.grips
            ],
            "changes-head": DRILL_HEAD,
            "changes": [
                _pictured(
                    materials,
                    page.change(one, chord_text),
                    (one.from_chord, one.from_shape),
                    (one.to_chord, one.to_shape),
                )
                for one in page.changes
            ],
            "next-head": NEXT_HEAD,
            "next": [
                _pictured(
                    materials,
                    one.sentence(chord_text),
                    *((", ".join(map(chord_text, its)), shape) for shape, its in one.by_shape),
                )
                for one in page.learn_next
            ],
            "notes": [sentence_text(note) for note in page.notes],
            "signs": box_signs(_shapes(page)),
        }


def _shapes(page: Handout) -> Iterator[Shape]:
    """All shapes on a page."""
    for grip in page.grips:
        yield from (place.shape for place in grip.places)
    for change in page.changes:
        yield from (change.from_shape, change.to_shape)
    for one in page.learn_next:
        yield from (shape for shape, _ in one.by_shape)


def _pictured(
    materials: PageMaterials, said: str, *pairs: tuple[Chord | str, Shape]
) -> dict[str, Any]:
    return {"boxes": box_data(pairs, materials.pictures), "said": said}
