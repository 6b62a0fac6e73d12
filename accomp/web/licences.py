"""The words of a page about its parts: author, licence and source of each.

Conventions: a short paragraph a part, then the licences in full, folded away.
"""

from __future__ import annotations

import html
import json
from functools import lru_cache
from pathlib import Path

from accomp.voice.kit.merge import MODELLED
from accomp.web.fonts import PageFonts

_HERE = Path(__file__).parent
_FOLDER = _HERE / "licences"

# The default font for the band, known by its own name. Source of licence and author: the Debian
# package timgm6mb-soundfont, and the head of pretty_midi's documentation (both from memory).
_GENERAL_MIDI = {
    "TimGM6mb": (
        "The band's sounds are parts of the SoundFont TimGM6mb by Tim Brechbill, under the GNU "
        "General Public License, version 2. The whole font, which is its own source, comes in the "
        "Python package pretty_midi and in Debian's package timgm6mb-soundfont.",
        "GPL-2",
    )
}


def about(small: PageFonts) -> str:
    """The foot of the page as HTML."""
    paragraphs = ["Made with accomp (MIT licence). It works offline and sends nothing anywhere."]
    licences = []
    for part in _parts():
        paragraphs.append(
            f"The synthesiser is {part['name']} {part['version']}, under the "
            f"{_LICENCE_NAMES.get(part['licence'], part['licence'])}."
            if part["name"] == "spessasynth_core"
            else f"It unpacks samples with {part['name']} {part['version']}, under the same."
        )
    licences.append("Apache-2.0")
    if small.voice:
        paragraphs.append("The player's sounds are computed from a model and free for any use.")
    known = _known(small.band_name)
    if known:
        paragraphs.append(known[0])
        licences.append(known[1])
    else:
        paragraphs.append(
            f"The band's sounds are parts of the SoundFont {small.band_name}; its own licence "
            f"says whether this page may be given away."
        )
    paragraphs.append("The type is Libertinus Serif, under the SIL Open Font License 1.1.")
    licences.append("OFL-1.1")
    lines = [f"<p>{html.escape(words)}</p>" for words in paragraphs]
    texts = "\n\n\n".join(_licence(name) for name in licences)
    lines.append(f"<details><summary>The licences in full</summary><pre>{texts}</pre></details>")
    return "\n".join(lines)


def _known(name: str) -> tuple[str, str] | None:
    """The words about a known font, and its licence; None for another font. A font with modelled
    drums and bass is known by the name of the font that they were put into."""
    font = name.removesuffix(MODELLED)
    known = _GENERAL_MIDI.get(font.removesuffix(".sf2"))
    if known is None or font == name:
        return known
    words, licence = known
    return f"{words} Its drums and bass are computed from models and free for any use.", licence


_LICENCE_NAMES = {"Apache-2.0": "Apache License, version 2.0"}


@lru_cache(maxsize=1)
def _parts() -> list[dict[str, str]]:
    made = json.loads((_HERE / "built" / "made.json").read_text(encoding="utf-8"))
    parts: list[dict[str, str]] = made["parts"]
    return parts


@lru_cache(maxsize=4)
def _licence(name: str) -> str:
    return html.escape((_FOLDER / f"{name}.txt").read_text(encoding="utf-8").strip())
