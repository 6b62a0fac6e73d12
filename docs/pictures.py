"""Make the pictures of README from real output: `make pictures`.

The first pages of the part, the chart and the lesson of the demo tune, as `accomp make` sets them,
and the chord boxes of its positions, as `accomp positions --svg` draws them; the banjo's strokes,
as FluidSynth plays its SoundFont; and the practice page and the desk, as a browser shows them.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2

from accomp.cli import run
from accomp.voice import voice_font
from benchmarks import voice_ear as ear
from benchmarks.voice_figures import bank, choked_bar
from docs.desk_pictures import desk_pictures
from docs.page_pictures import practice_pictures

HERE = Path(__file__).parent
TUNE = HERE.parent / "examples" / "harbour-street-parade.toml"
PICTURES = HERE / "pictures"
WIDTH_PX = 900
POSITION = "root-top"
INK = ("#2f7d6b", "#c8782a", "#6b4c9a")


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
        _accomp("practice", TUNE, "--out", folder, "--choruses", "1", "--position", POSITION)
        practice_pictures(next(folder.glob("*.html")), PICTURES)
    desk_pictures(TUNE, PICTURES)
    svg = PICTURES / "positions.svg"
    _accomp("positions", TUNE, "--position", POSITION, "--svg", svg, "--replace")
    strokes(PICTURES / "strokes.png")


def strokes(path: Path) -> None:
    """One strum let go after 0.15 s: ringing, choked, dead; and a choked bar beside the same bar in
    the General MIDI font.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9, 3), layout="constrained")
    left, right = figure.subplots(1, 2, sharey=True)
    ours, theirs = ear.Player(voice_font("tenor-banjo")), ear.Player(ear.general_midi())
    for variant, (name, colour) in enumerate(zip(("ringing", "choked", "dead"), INK, strict=True)):
        hold = 0.6 if variant == 0 else 0.15
        strum = [
            ear.Stroke(0.008 * channel, hold, key, 95, bank(variant, string), channel)
            for channel, (string, key) in enumerate(((4, 53), (3, 57), (2, 65), (1, 69)))
        ]
        _draw(left, ours.play(strum, 0.6), name, colour)
    left.set(title="one strum", xlabel="s", ylabel="level, dB", ylim=(-70, 14))
    _draw(
        right, theirs.play(choked_bar(beats=4, plain=True), 4 / 3), "General MIDI banjo", "#999999"
    )
    _draw(right, ours.play(choked_bar(beats=4), 4 / 3), "accomp", INK[1])
    right.set(title="four choked strums at 180", xlabel="s")
    for axis in (left, right):
        axis.grid(alpha=0.3)
        axis.legend(loc="upper center", ncol=3, fontsize=8)
    figure.savefig(path, dpi=100)


def _draw(axis: Any, sound: ear.Sound, label: str, colour: str) -> None:
    level = 20.0 * np.log10(ear.envelope(sound, 0.005) + 1e-9)
    times = np.arange(level.size) / ear.RATE_HZ
    axis.plot(times, level - level.max(), color=colour, label=label, lw=1.2)


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
