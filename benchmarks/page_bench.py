"""The practice page in a browser: how soon it is ready, and whether it keeps its frames.

The reference of readiness is a second, by the page's own clock from its first line of script on;
that of frames is the same page at rest. Both are the best of a few tries: other work on the machine
makes them longer and is not the page's. Needs Debian's chromium.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path
from typing import Any

from benchmarks.measure import Measure

_TRIES = 5
_TUNE = Path(__file__).parent.parent / "examples" / "harbour-street-parade.toml"
_FRAMES = """(ms) => new Promise((done) => {
  let n = 0; const end = performance.now() + ms;
  const f = () => { n++; performance.now() < end ? requestAnimationFrame(f) : done(n); };
  requestAnimationFrame(f); })"""
_WATCH = """() => { window.long = [0]; new PerformanceObserver((list) =>
  window.long.push(...list.getEntries().map((e) => e.duration))).observe({ type: 'longtask' }); }"""


def run() -> list[Measure]:
    """Ready, longest task, frames; nothing where there is no browser."""
    chromium = shutil.which("chromium")
    if chromium is None:
        return []
    from playwright.sync_api import sync_playwright

    from accomp.job.options import Options
    from accomp.job.outside import make_alone
    from accomp.tune import read_tune

    with tempfile.TemporaryDirectory() as name, sync_playwright() as driver:
        wanted = Options(only=("page",), choruses=1)
        make_alone("page", read_tune(_TUNE), wanted, Path(name))
        (page,) = Path(name).glob("*.html")
        browser = driver.chromium.launch(executable_path=chromium)
        tries = [_try(browser, page) for _ in range(_TRIES)]
        browser.close()
    ready, longest = (min(one[at] for one in tries) for at in (0, 1))
    share = max(one[2] for one in tries)
    size = f"{_TRIES} tries, the best"
    return [
        Measure("32-bar page ready", ready / 1000, "s", "a second", 1.0, ready / 1000,
                at_most=1.0, note=size),
        Measure("longest task while it plays", longest, "ms", "a long task", 50.0, longest / 50,
                at_most=1.0, note=size),
        Measure("frames while it plays", share, "of those at rest", "the same page at rest", 1.0,
                share, at_least=0.9, note=size),
    ]  # fmt: skip


def _try(browser: Any, path: Path) -> tuple[float, float, float]:
    """Milliseconds until ready, of the longest task in three seconds, and the share of frames."""
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    page.goto(path.as_uri())
    page.wait_for_selector("html[data-ready=sound]", state="attached")
    ready: float = page.evaluate("practice.readyMs")
    rest = page.evaluate(_FRAMES, 1500)
    page.evaluate("practice.play()")
    page.wait_for_timeout(800)
    page.evaluate(_WATCH)
    playing = page.evaluate(_FRAMES, 3000) / 2
    longest: float = page.evaluate("Math.max(...window.long)")
    context.close()
    return ready, longest, playing / rest
