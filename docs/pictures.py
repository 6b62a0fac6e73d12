"""Make the pictures of README from real output: `make pictures`.

The first pages of the part, the chart and the lesson of the demo tune, as `accomp make` sets them,
and the chord boxes of its positions, as `accomp positions --svg` draws them.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import pypdfium2

from accomp.cli import run

HERE = Path(__file__).parent
TUNE = HERE.parent / "examples" / "harbour-street-parade.toml"
PICTURES = HERE / "pictures"
WIDTH_PX = 900
POSITION = "root-top"


def main() -> None:
    """Make all pictures."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        _accomp("make", TUNE, "--out", folder, "--only", "pdf", "--position", POSITION)
        pages = pypdfium2.PdfDocument(next(folder.glob("*.pdf")))
        for title, page in _firsts(pages):
            scale = WIDTH_PX / page.get_width()
            picture = page.render(scale=scale).to_pil()
            picture.quantize(64).save(PICTURES / f"{title}.png", optimize=True)
    svg = PICTURES / "positions.svg"
    _accomp("positions", TUNE, "--position", POSITION, "--svg", svg)


def _firsts(pages: pypdfium2.PdfDocument) -> list[tuple[str, pypdfium2.PdfPage]]:
    """The first page of each kind: those with the large title, in order chart, part, lesson."""
    titled = [page for page in pages if "Tenor banjo" in page.get_textpage().get_text_range()[:200]]
    return list(zip(("chart", "part", "lesson"), titled, strict=False))


def _accomp(*words: object) -> None:
    code = run([str(word) for word in words])
    if code:
        raise SystemExit(code)


if __name__ == "__main__":
    main()
