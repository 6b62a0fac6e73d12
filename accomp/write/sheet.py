"""Pages for one tune: chord chart, part sheet and lesson sheet in one PDF."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from accomp.score.arrangement import Arrangement
from accomp.write.formats import PAGES, PageKind, Paper
from accomp.write.pages import PageMaterials, PageSet, set_pdf
from accomp.write.sheet_chart import chart_page
from accomp.write.sheet_lesson import LessonText, lesson_pages
from accomp.write.sheet_part import part_pages
from accomp.write.sheet_tune import OWN, PageAddress, Printing


def write_sheet(
    arrangement: Arrangement,
    path: Path,
    *,
    pages: Sequence[PageKind] = PAGES,
    printing: Printing = OWN,
    paper: Paper = "a4",
    lesson: LessonText | None = None,
) -> tuple[str, ...]:
    """Write the PDF of a tune; returns notices, such as signs that no page font has.

    `pages` come in the order given; a lesson sheet is left out without a `lesson`. Raises
    `OutputError` when the typesetter refuses, `OSError` when the file cannot be written.
    """
    materials = PageMaterials(paper)
    made = tune_pages(arrangement, pages, printing, materials, lesson)
    title = materials.text(arrangement.title, "The title") or "Untitled"
    set_pdf(PageSet(title, made, paper), materials.pictures.files, path)
    return materials.text.notices


def tune_pages(
    arrangement: Arrangement,
    pages: Sequence[PageKind],
    printing: Printing,
    materials: PageMaterials,
    lesson: LessonText | None = None,
    *,
    own: bool = True,
) -> list[dict[str, Any]]:
    """The data of a tune's pages; `own` says that they are for the player of the strummed part,
    who gets boxes, strokes and the lesson."""
    own = own and printing.reader == "concert"
    made: list[dict[str, Any]] = []
    for page in pages:
        address = PageAddress(first=not made)
        if page == "chart":
            made.append(
                chart_page(arrangement, materials, address, reader=printing.reader, own=own)
            )
        elif page == "part":
            made += part_pages(arrangement, printing, materials, address, own=own)
        elif page == "lesson" and lesson is not None and own:
            made.extend(lesson_pages(arrangement, lesson, materials, address))
    return made
