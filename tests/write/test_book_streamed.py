"""A book of very many tunes: each is set by itself, and of those that are done nothing is held."""

import weakref

import pytest
from approve_pictures import FOLDER  # puts the hand-made arrangements on the path
from hand_made import arrangement
from pypdf import PdfReader

from accomp.write.book import Entry, write_book
from accomp.write.pages import PageMaterials
from accomp.write.sheet import tune_pages
from accomp.write.sheet_tune import OWN


class Pictures(dict):
    """A dictionary that can be watched."""


def entry(number):
    strokes = [("0", "1/2", "down", "plain", "ring", "all")]
    tune = arrangement([("F", "5 5 7 8"), ("C7", "4 3 5 3")], strokes, title=f"Lamp {number}")
    materials = PageMaterials()
    pages = tune_pages(tune, ("chart", "part"), OWN, materials)
    return Entry(pages, Pictures(materials.pictures.files))


@pytest.mark.slow
def test_of_tunes_that_are_set_no_pictures_are_held(tmp_path):
    assert FOLDER.is_dir()
    watched, held = [], []

    def entries():
        for number in range(6):
            held.append(sum(one() is not None for one in watched))
            made = entry(number)
            watched.append(weakref.ref(made.pictures))
            yield made
            del made

    assert write_book("Quay", "Own", entries(), tmp_path / "b.pdf") == ()
    assert max(held) <= 1  # the one before, which is let go with the next
    pdf = PdfReader(tmp_path / "b.pdf")
    assert len(pdf.pages) == 2 + 6 * 2 + 2  # cover and contents before, two indices after
    for number in range(6):
        chart, part = (pdf.pages[2 + 2 * number + at].extract_text() for at in (0, 1))
        assert f"Lamp {number}" in chart
        assert f"Lamp {number}" in part
        assert chart.rstrip().endswith(f"{3 + 2 * number} / 16")
