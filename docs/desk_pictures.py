"""Pictures of the desk for README: the words of a tune with its bars, and its positions."""

from __future__ import annotations

import io
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

PLACES = {"desk": ("#tune", "light"), "desk-neck": ("#neck", "dark")}
SIZE = {"width": 1280, "height": 800}


def desk_pictures(tune: Path, folder: Path) -> None:
    """Open a desk with one tune on it in Debian's Chromium and take each picture."""
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as name, sync_playwright() as driver:
        shelf = Path(name) / "Harbour Band"
        shelf.mkdir()
        shutil.copy(tune, shelf)
        command = [sys.executable, "-m", "accomp", "desk", str(shelf), "--port", "0"]
        desk = subprocess.Popen(
            [*command, "--no-browser"],
            stdout=subprocess.PIPE,
            text=True,
            env=os.environ | {"XDG_DATA_HOME": name},
        )
        assert desk.stdout is not None
        address = desk.stdout.readline().strip()
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"))
        try:
            for title, (sheet, scheme) in PLACES.items():
                page = browser.new_page(viewport=SIZE, color_scheme=scheme)
                page.set_default_timeout(120_000)
                page.goto(address)
                page.click(f"[data-name={tune.stem}]")
                page.wait_for_selector(".position")
                page.wait_for_selector("#count .slot", state="attached")
                page.evaluate(f"document.querySelector({sheet!r}).scrollIntoView()")
                page.evaluate("document.activeElement?.blur()")
                picture = Image.open(io.BytesIO(page.screenshot()))
                path = folder / f"{title}.png"
                picture.convert("RGB").quantize(96).save(path, optimize=True)
                page.close()
        finally:
            browser.close()
            desk.terminate()
            desk.communicate()
