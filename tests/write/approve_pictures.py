"""Pages that were looked at and found good, as small pictures beside the tests.

Run as a program it makes the pictures of tests/write/approved anew: look at them before keeping
them. Everything on them is fixed here, so that no change of planning changes a page.
"""

from __future__ import annotations

import io
import sys
from pathlib import Path

FOLDER = Path(__file__).parent / "approved"
sys.path.append(str(Path(__file__).parent.parent / "score"))

PPI = 50


def page_pngs(title, pages, pictures, *, paper="a4", ppi=72.0) -> list[bytes]:
    """What `set_pdf` sets, as PNG pictures, one a page, at `ppi` dots an inch."""
    from accomp.write.pages import PageSet, typesetting

    with typesetting() as table:
        return drawn(table, PageSet(title, pages, paper), pictures, ppi)


def book_pngs(title, player, entries) -> list[bytes]:
    """What `write_book` sets."""
    from accomp.write.book import book_pages, set_tunes
    from accomp.write.page_text import PageText
    from accomp.write.pages import PageSet, typesetting

    with typesetting() as table:
        tunes = list(set_tunes(table, entries, "a4"))
        data = book_pages(title, player, tunes, PageText())
        return drawn(table, PageSet(title, data, book=True), {}, PPI)


def drawn(table, pages, pictures, ppi) -> list[bytes]:
    import typst

    source, root = table.laid_out(pages, pictures), table.folder
    made = typst.compile(source, root=root, ignore_system_fonts=True, format="png", ppi=ppi)
    return made if isinstance(made, list) else [made]


def pages() -> dict[str, bytes]:
    """Name and PNG of every page."""
    from hand_made import GUITAR, arrangement, shape

    from accomp.score.notate_layout import ScoreLayout
    from accomp.write.book import Entry
    from accomp.write.pages import PageMaterials
    from accomp.write.sheet import tune_pages
    from accomp.write.sheet_tune import Printing

    verse = [
        ("F", "5 5 7 8"),
        ("F7", "5 5 7 6"),
        ("Bb", "5 7 8 8"),
        ("Bdim7", "5 7 6 8"),
        [("F/C", "5 5 7 8", "1/2"), ("D7", "4 5 4 5", "1/2")],
        ("G7", "2 4 3 5"),
        ("C7", "4 3 5 3"),
        ("N.C.", ""),
    ]
    strokes = [
        ("0", "1/4", "down", "light", "ring", "low2"),
        ("1/4", "3/8", "down", "accent", "choked", "all"),
        ("3/8", "1/2", "up", "plain", "ring", "high2"),
        ("1/2", "3/4", "down", "plain", "dead", "all"),
        ("3/4", "1", "down", "plain", "tremolo", "all"),
    ]
    banjo = arrangement(
        verse * 2, strokes, sections=["Verse"] * 8 + ["Coda"] * 8, title="Two Lamps", swing=2.0
    )
    guitar = arrangement(
        [("C", "x 3 2 0 1 0"), ("F", "1 3 3 2 1 1"), ("G7", "3 2 0 0 0 1")] * 4,
        instrument=GUITAR,
        key="C",
        title="Rope Walk",
    )
    assert shape(GUITAR, "C", "x 3 2 0 1 0").frets[0] is None
    made: dict[str, bytes] = {}
    for name, arranged, layout in (
        ("banjo", banjo, ScoreLayout("both", bass=False)),
        ("guitar", guitar, ScoreLayout("both", bass=False)),
        ("reader-Bb", banjo, ScoreLayout("slash", bass=False, reader="Bb")),
    ):
        materials = PageMaterials()
        data = tune_pages(arranged, ("chart", "part"), Printing((layout,)), materials)
        pngs = page_pngs(arranged.title, data, materials.pictures.files, ppi=PPI)
        made |= {f"{name}-{number}": png for number, png in enumerate(pngs, 1)}
    entries = []
    for arranged in (banjo, guitar):
        materials = PageMaterials()
        data = tune_pages(arranged, ("chart",), Printing((ScoreLayout("slash", False),)), materials)
        entries.append(Entry(data, materials.pictures.files))
    pngs = book_pngs("Quayside Band", "Concert pitch", entries)
    made |= {f"book-{number}": png for number, png in enumerate(pngs, 1)}
    return made


def small(png: bytes) -> bytes:
    """The picture in 16 greys, which is enough to compare and small to keep."""
    from PIL import Image

    out = io.BytesIO()
    Image.open(io.BytesIO(png)).convert("L").quantize(16).save(out, "PNG", optimize=True)
    return out.getvalue()


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for old in FOLDER.glob("*.png"):
        old.unlink()
    for name, png in pages().items():
        (FOLDER / f"{name}.png").write_bytes(small(png))
        print(FOLDER / f"{name}.png")
