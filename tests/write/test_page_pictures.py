"""Pages against the pictures that were approved by eye (tests/write/approved).

When a change is meant, `python tests/write/approve_pictures.py` makes the pictures anew; look at
each before it is kept.
"""

from __future__ import annotations

import io

import numpy
import pytest
from approve_pictures import FOLDER, pages, small
from PIL import Image

# A page of another version of the fonts or the engraver may differ in its edges, not in its
# places: greys 0 to 255, on the average of the page, and the share of dots that changed clearly.
MOST_GREY, MOST_DOTS = 0.7, 0.0015


@pytest.fixture(scope="module")
def made():
    return pages()


def grey(picture) -> numpy.ndarray:
    return numpy.asarray(Image.open(picture).convert("L"), dtype=float)


@pytest.mark.slow
def test_the_approved_pages_are_the_pages_there_are(made):
    assert {path.stem for path in FOLDER.glob("*.png")} == made.keys()


@pytest.mark.many(2, 99)
@pytest.mark.parametrize("name", sorted(path.stem for path in FOLDER.glob("*.png")))
def test_a_page_looks_as_it_was_approved(name, made):
    ours, approved = grey(io.BytesIO(small(made[name]))), grey(FOLDER / f"{name}.png")
    assert ours.shape == approved.shape
    apart = numpy.abs(ours - approved)
    assert apart.mean() < MOST_GREY
    assert (apart > 96).mean() < MOST_DOTS


def test_the_tolerance_sees_a_missing_line_of_music(made):
    page = grey(FOLDER / "banjo-2.png")
    changed = page.copy()
    rows = numpy.flatnonzero((page < 128).any(axis=1))
    changed[rows[len(rows) // 3] : rows[len(rows) // 3] + 60] = 255
    apart = numpy.abs(page - changed)
    assert apart.mean() > MOST_GREY or (apart > 96).mean() > MOST_DOTS
