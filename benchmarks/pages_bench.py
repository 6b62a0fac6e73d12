"""Pages: a part sheet against the engraver alone, and a band book with one and two processes.

The part sheet starts from the arrangement and ends with the PDF file; the engraver is given the
same score as MusicXML and lays it out and draws all its pages, which is part of what we do. The
book holds 60 tunes for three readers, chart and rhythm part each, from an empty cache.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from benchmarks.measure import Measure, in_turns, slower
from benchmarks.memory import peak_bytes
from benchmarks.pieces import arrangement
from benchmarks.tunes import tune_text

BARS = 96
TUNES = 60
KEYS = ("F", "G", "Bb", "C", "D", "Eb", "A", "Ab")
READERS = ("concert", "Bb", "Eb")
EXPLAINED = {
    f"part sheet of {BARS} bars to PDF": (
        "By processor time the sheet takes 1.9 to 2.1 times what the engraver takes alone; by the "
        "clock the ratio swings between 1.5 and 2.4 while other programs share the two cores. "
        "Half of the sheet's time is the engraver's own, a quarter the typesetter's."
    )
}


def run() -> list[Measure]:
    """A part of 96 bars; then the book."""
    return [_sheet(), *_book()]


def _sheet() -> Measure:
    import verovio

    from accomp.score.notate import notate
    from accomp.write.musicxml import musicxml_bytes
    from accomp.write.sheet import write_sheet
    from accomp.write.sheet_tune import OWN

    # Each round has a key of its own: the typesetter remembers pictures that it has seen.
    arrangements = [arrangement(BARS, 1, key) for key in KEYS]
    ours_next, theirs_next = iter(arrangements), iter(arrangements)
    music = {id(one): musicxml_bytes(notate(one, OWN.layouts[0])).decode() for one in arrangements}

    def sheet() -> None:
        write_sheet(next(ours_next), path, pages=("part",))

    def engraver() -> None:
        toolkit = verovio.toolkit()
        toolkit.setOptions({"header": "none", "footer": "none", "breaks": "auto"})
        toolkit.loadData(music[id(next(theirs_next))])
        for page in range(1, toolkit.getPageCount() + 1):
            toolkit.renderToSVG(page)

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.pdf"
        ours, theirs = in_turns([sheet, engraver], rounds=len(KEYS) - 1)
        note = f"{path.stat().st_size / 1e3:.0f} kB"
    name = f"part sheet of {BARS} bars to PDF"
    return slower(name, ours, "verovio's layout and drawing", theirs, 2, note)


def _book() -> list[Measure]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "tunes"
        folder.mkdir()
        for number in range(TUNES):
            text = tune_text(32, title=f"Milestone {number + 1}")
            (folder / f"tune{number:02}.toml").write_text(text, encoding="utf-8")
        (folder / "book.toml").write_text('pages = ["chart", "part"]\n', encoding="utf-8")
        one_s, one_bytes, pages = _made(folder, Path(name), jobs=1)
        two_s, two_bytes, _ = _made(folder, Path(name), jobs=2)
        start = time.perf_counter()
        peak_bytes(_command(folder, Path(name) / "out2", Path(name) / "cache2", 1))
        again_s = time.perf_counter() - start
    what = f"book of {TUNES} tunes for {len(READERS)} readers"
    return [
        Measure(f"{what}, 1 process", pages / one_s, "pages a second", note=f"{pages} pages"),
        Measure(
            f"{what}, 2 processes", pages / two_s, "pages a second",
            "1 process", pages / one_s, one_s / two_s,
        ),
        Measure(f"{what}, nothing changed", again_s, "s"),
        Measure("memory of the book, 1 process", one_bytes / 1e6, "MB"),
        Measure("memory of the book, 2 processes", two_bytes / 1e6, "MB"),
    ]  # fmt: skip


def _made(folder: Path, base: Path, jobs: int) -> tuple[float, float, int]:
    """Seconds, bytes at the most, and pages of a book made from nothing."""
    out = base / f"out{jobs}"
    start = time.perf_counter()
    peak = peak_bytes(_command(folder, out, base / f"cache{jobs}", jobs))
    taken = time.perf_counter() - start
    return taken, peak, sum(_pages(path) for path in out.glob("*.pdf"))


def _pages(path: Path) -> int:
    import pypdf

    return len(pypdf.PdfReader(path).pages)


def _command(folder: Path, out: Path, cache: Path, jobs: int):
    """Starts `accomp book` in a process of its own."""
    words = [sys.executable, "-c", "from accomp.cli import main; main()", "book", str(folder)]
    words += ["--out", str(out), "--jobs", str(jobs)]
    for reader in READERS:
        words += ["--player", reader]
    environment = {**os.environ, "XDG_CACHE_HOME": str(cache)}

    def start() -> subprocess.Popen[bytes]:
        return subprocess.Popen(words, stdout=subprocess.DEVNULL, env=environment)

    return start
