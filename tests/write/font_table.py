"""Which signs every style of the page fonts has, read from the fonts inside the typesetter.

Run as a program it prints the table of accomp/data/fonts.toml anew.
"""

from __future__ import annotations

import io
import struct
from pathlib import Path

FAMILIES = ("Libertinus Serif", "DejaVu Sans Mono")
# Styles the pages use, with the faces that stand in for each (the first that has a sign is taken).
STYLES = (
    ("Libertinus Serif Regular", "DejaVu Sans Mono"),
    ("Libertinus Serif Bold", "DejaVu Sans Mono Bold"),
    ("Libertinus Serif Italic", "DejaVu Sans Mono Oblique"),
)


def embedded_fonts() -> dict[str, frozenset[int]]:
    """Code points by face name, of all OpenType fonts inside the typst library."""
    import typst
    from fontTools.ttLib import TTFont, TTLibError

    library = next(Path(typst.__file__).parent.glob("*.so"), None) or next(
        Path(typst.__file__).parent.glob("*.pyd")
    )
    data = library.read_bytes()
    found: dict[str, frozenset[int]] = {}
    for magic in (b"OTTO", b"\0\1\0\0"):
        at = -1
        while (at := data.find(magic, at + 1)) >= 0:
            end = _font_end(data, at)
            if end is None:
                continue
            try:
                font = TTFont(io.BytesIO(data[at : at + end]), lazy=True)
                found[font["name"].getDebugName(4)] = frozenset(font.getBestCmap())
            except (TTLibError, KeyError, struct.error, AssertionError):
                continue
    return found


def _font_end(data: bytes, at: int) -> int | None:
    """Length of the font at an offset by its table directory, None when it is none."""
    (tables,) = struct.unpack(">H", data[at + 4 : at + 6])
    if not 5 <= tables <= 40:
        return None
    end = 0
    for entry in range(at + 12, at + 12 + 16 * tables, 16):
        if not all(32 <= byte < 127 for byte in data[entry : entry + 4]):
            return None
        offset, length = struct.unpack(">II", data[entry + 8 : entry + 16])
        end = max(end, offset + length)
    return end if end < 5_000_000 else None


def common_signs() -> frozenset[int]:
    """Code points that each style can show."""
    fonts = embedded_fonts()
    styles = [frozenset().union(*(fonts[face] for face in faces)) for faces in STYLES]
    return frozenset.intersection(*styles) - frozenset(range(0x20)) - {0x7F}


def table(signs: frozenset[int]) -> str:
    """The text of the data file."""
    runs: list[list[int]] = []
    for sign in sorted(signs):
        if runs and runs[-1][1] == sign - 1:
            runs[-1][1] = sign
        else:
            runs.append([sign, sign])
    words = [f"{a:x}" if a == b else f"{a:x}-{b:x}" for a, b in runs]
    lines, line = [], ""
    for word in words:
        if len(line) + len(word) > 95:
            lines.append(line.strip())
            line = ""
        line += f"{word} "
    lines.append(line.strip())
    return (
        "# Signs that the fonts of the pages have in every style in use.\n"
        "# Source: the character maps of Libertinus Serif and DejaVu Sans Mono as they come inside "
        "the\n# typst package; tests/write/font_table.py prints this table anew.\n"
        "# Format: Unicode code points in hexadecimal, single or as ranges, both ends counted.\n"
        'signs = """\n' + "\n".join(lines) + '\n"""\n'
    )


if __name__ == "__main__":
    print(table(common_signs()), end="")
