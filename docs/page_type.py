"""Writes the type of the practice page: Libertinus Serif, cut down to what titles need, as WOFF2.

Run by `make web`. The fonts are those inside the typst package, which the printed pages use too.
"""

from __future__ import annotations

import io
import struct
from collections.abc import Iterator
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont, TTLibError

BUILT = Path(__file__).parent.parent / "accomp" / "web" / "built"
FACES = {"Libertinus Serif Regular": "regular.woff2", "Libertinus Serif Italic": "italic.woff2"}
# Latin with its neighbours, Greek, Cyrillic, punctuation, figures, arrows, signs of music.
SIGNS = (
    (0x20, 0x24F), (0x2B0, 0x2FF), (0x370, 0x3FF), (0x400, 0x45F), (0x1E00, 0x1EFF),
    (0x2010, 0x2044), (0x20AC, 0x20AC), (0x2190, 0x2193), (0x2206, 0x2212), (0x266D, 0x266F),
)  # fmt: skip
FEATURES = ["kern", "liga", "lnum", "tnum", "ccmp", "locl", "mark", "mkmk"]


def main() -> None:
    """Write both faces."""
    import typst

    BUILT.mkdir(exist_ok=True)
    library = next(Path(typst.__file__).parent.glob("*.so"))
    for name, font in embedded(library.read_bytes()):
        if name in FACES:
            (BUILT / FACES[name]).write_bytes(woff2(font))


def embedded(data: bytes) -> Iterator[tuple[str, bytes]]:
    """(face name, bytes) of the OpenType fonts with PostScript outlines inside a library."""
    at = -1
    while (at := data.find(b"OTTO", at + 1)) >= 0:
        (tables,) = struct.unpack(">H", data[at + 4 : at + 6])
        entries = [data[at + 12 + 16 * n : at + 28 + 16 * n] for n in range(min(tables, 40))]
        if not entries or not all(entry[:4].isascii() for entry in entries):
            continue
        end = max(sum(struct.unpack(">II", entry[8:16])) for entry in entries)
        try:
            font = TTFont(io.BytesIO(data[at : at + end]), lazy=True)
            yield font["name"].getDebugName(4) or "", data[at : at + end]
        except (TTLibError, KeyError, struct.error, AssertionError):
            continue


def woff2(data: bytes) -> bytes:
    """The font with the signs of `SIGNS` alone. Equal fonts give equal bytes."""
    options = subset.Options(
        flavor="woff2", layout_features=FEATURES, hinting=False, desubroutinize=True,
        name_IDs=[0, 1, 2, 13, 14], recalc_timestamp=False,
    )  # fmt: skip
    font = subset.load_font(io.BytesIO(data), options)
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=[sign for a, b in SIGNS for sign in range(a, b + 1)])
    cutter.subset(font)
    buffer = io.BytesIO()
    subset.save_font(font, buffer, options)
    return buffer.getvalue()


if __name__ == "__main__":
    main()
