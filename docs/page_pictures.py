"""Pictures of the practice page for README: phone, tablet and desktop, while it plays."""

from __future__ import annotations

import io
import shutil
from pathlib import Path

from PIL import Image

PLACES = {
    "practice-phone": ((390, 844), "light"),
    "practice-tablet": ((820, 1180), "dark"),
    "practice-desktop": ((1280, 800), "light"),
}
BAR, BEAT = 1, 2  # counted from 0: where the picture is taken


def practice_pictures(page: Path, folder: Path) -> None:
    """Open the page in Debian's Chromium, play two bars and take each picture."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"))
        for name, ((width, height), scheme) in PLACES.items():
            size = {"width": width, "height": height}
            shown = browser.new_page(viewport=size, color_scheme=scheme, reduced_motion="reduce")
            shown.goto(page.as_uri())
            shown.wait_for_selector("html[data-ready=sound]", state="attached")
            shown.evaluate(
                "practice.change({ loop: [0, 3], faster: 3, upTo: 168, tempo: 118, countIn: 0 })"
            )
            shown.evaluate("practice.play()")
            while not shown.evaluate(
                f"practice.chart.marked === {BAR} && practice.count.marked === {BEAT}"
            ):
                shown.wait_for_timeout(10)
            picture = Image.open(io.BytesIO(shown.screenshot()))
            picture.convert("RGB").quantize(96).save(folder / f"{name}.png", optimize=True)
            shown.close()
        browser.close()
