"""The desk: how soon it opens, how soon it follows the typing, and how much memory it keeps.

The references are the goals themselves: a second from the command to the first page, 300 ms from a
key to the mistake that is marked and the positions that are redrawn, 300 MB for all its processes
after 200 tunes were opened. The key is pressed in Debian's Chromium, whose clock takes the time; a
browser that is not there leaves that figure out.
"""

from __future__ import annotations

import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path
from typing import Any

from benchmarks.measure import Measure
from benchmarks.memory import memory
from benchmarks.tunes import tune_text

TUNES, ROUNDS = 200, 15
PAGE_S, KEY_S, MEMORY = 1.0, 0.3, 300e6
# From a key to the picture after everything has followed: mistake marked or gone, boxes drawn.
_KEY = """
async ([old, fresh, chord]) => {
  const words = document.getElementById("words");
  const begun = performance.now();
  const at = words.value.indexOf(old);
  words.focus();
  words.setSelectionRange(at, at + old.length);
  document.execCommand("insertText", false, fresh);
  const marked = chord === null;
  const done = () => marked
    ? document.querySelector("mark") !== null
    : !document.querySelector("mark")
      && document.querySelector(`.position [data-chord="${chord}"]`) !== null;
  while (!done()) await new Promise((next) => requestAnimationFrame(next));
  return (performance.now() - begun) / 1000;
}
"""


def run() -> list[Measure]:
    """All figures."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for number in range(TUNES):
            text = tune_text(32).replace("title = ", f"# {number}\ntitle = ", 1)
            (folder / f"tune-{number:03d}.toml").write_text(text, encoding="utf-8")
        begun = time.perf_counter()
        process, address = _opened(folder)
        try:
            with _ask(address, "/") as page:
                page.read()
            first_s = time.perf_counter() - begun
            keys = _keys(address)
            for number in range(TUNES):
                _open_tune(address, folder, f"tune-{number:03d}")
            kept = memory(process.pid)
        finally:
            process.terminate()
            process.wait()
    found = [_goal("the desk: from the command to its first page", first_s, "s", PAGE_S)]
    for words, times in keys.items():
        found.append(_goal(f"the desk: from a key to {words}, 32 bars", times, "s", KEY_S))
    return [*found, _goal(f"the desk: memory after {TUNES} tunes", kept / 1e6, "MB", MEMORY / 1e6)]


def _goal(name: str, value: float, unit: str, goal: float) -> Measure:
    return Measure(name, value, unit, "the goal", goal, value / goal, at_most=1.0)


def _opened(folder: Path) -> tuple[subprocess.Popen[str], str]:
    command = [sys.executable, "-m", "accomp", "desk", str(folder), "--port", "0", "--no-browser"]
    home = {"XDG_DATA_HOME": str(folder / ".home")}
    usual = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=usual | home
    )
    assert process.stdout is not None
    return process, process.stdout.readline().strip()


def _ask(address: str, path: str, body: bytes | None = None) -> Any:
    origin, _, token = address.partition("/?token=")
    headers = {"authorization": f"Bearer {token}"}
    return urllib.request.urlopen(urllib.request.Request(origin + path, body, headers))


def _open_tune(address: str, folder: Path, name: str) -> None:
    """What the page asks when a tune is opened."""
    text = (folder / f"{name}.toml").read_text(encoding="utf-8")
    body = json.dumps({"text": text, "name": name}).encode()
    for path, sent in ((f"/api/tunes/{name}", None), ("/api/judge", body), ("/api/neck", body)):
        with _ask(address, path, sent) as answer:
            answer.read()


def _keys(address: str) -> dict[str, float]:
    """Medians by what follows a key: a mistake marked, or the positions redrawn."""
    path = shutil.which("chromium")
    if path is None:
        return {}
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path)
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.goto(address)
        page.wait_for_selector("html[data-ready=yes]", state="attached")
        page.click("[data-name=tune-000]")
        page.wait_for_selector(".position")
        page.wait_for_timeout(8000)  # what would be heard is asked for meanwhile
        marked, drawn = [], []
        before = "F#dim7"
        for number in range(ROUNDS):
            fresh = ("Ebm6", "Abm6")[number % 2]
            marked.append(page.evaluate(_KEY, [f" {before} ", " H7 ", None]))
            drawn.append(page.evaluate(_KEY, [" H7 ", f" {fresh} ", fresh]))
            before = fresh
            page.wait_for_timeout(200)
        browser.close()
    return {
        "the marked mistake": statistics.median(marked),
        "the redrawn positions": statistics.median(drawn),
    }
