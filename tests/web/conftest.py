"""A browser and pages to open in it; where there is no browser, the tests are skipped."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from desk_server import EXAMPLES, RunningDesk
from web_pages import CHOKED, example, made_page

from accomp.tune import parse_tune

Opened = Callable[..., Any]


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Debian's Chromium, driven by Playwright's Python package."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="no browser is on the machine")
    path = shutil.which("chromium")
    if path is None:
        pytest.skip("no browser is on the machine")
    with sync_api.sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=path)
        yield chromium
        chromium.close()


@pytest.fixture
def opened(browser: Any) -> Iterator[Opened]:
    """A function that opens a file and waits until the page is ready; what the page complains of
    fails the test at its end."""
    contexts: list[Any] = []
    complaints: list[str] = []

    def open_page(path: Path, *, wait: str = "sound", before: str = "", **how: Any) -> Any:
        context = browser.new_context(**{"viewport": {"width": 1280, "height": 800}, **how})
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "console",
            lambda said: complaints.append(said.text) if said.type == "error" else None,
        )
        if before:
            page.add_init_script(before)
        page.goto(path.as_uri())
        if wait:
            page.wait_for_selector(f"html[data-ready={wait}]", state="attached")
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert complaints == []


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("pages")


@pytest.fixture(scope="session")
def parade(folder: Path) -> Path:
    """32 bars, one position."""
    path = folder / "parade.html"
    path.write_bytes(made_page(example("harbour-street-parade"), choruses=1))
    return path


@pytest.fixture(scope="session")
def positions(folder: Path) -> Path:
    """The same in two keys, all positions."""
    path = folder / "positions.html"
    tune = example("harbour-street-parade")
    path.write_bytes(made_page(tune, choruses=1, positions=("all",), keys=("F", "Bb")))
    return path


@pytest.fixture(scope="session")
def choked(folder: Path) -> Path:
    """Four bars, every stroke choked."""
    path = folder / "choked.html"
    path.write_bytes(made_page(parse_tune(CHOKED, "choked.toml"), choruses=1))
    return path


@pytest.fixture(scope="session")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningDesk]:
    """A desk with the examples on its shelf, shared by tests that keep to tunes of their own."""
    folder = tmp_path_factory.mktemp("shelf")
    for path in EXAMPLES.glob("*.toml"):
        shutil.copy(path, folder)
    desk = RunningDesk(folder, tmp_path_factory.mktemp("home")).open()
    yield desk
    assert desk.close() in {0, -15, 143}
