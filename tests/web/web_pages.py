"""Pages of small tunes for the tests of the web room."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from accomp.job.options import Options
from accomp.job.request import resolve
from accomp.job.sound import sound_of
from accomp.job.versions import versions
from accomp.tune import Tune, parse_tune, read_tune
from accomp.web.notes import PageVersion
from accomp.web.page import page_bytes
from accomp.write.audio.fonts import Fonts, choose_fonts

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
CHOKED = """title = "Four Choked Bars"
key = "C"
meter = "4/4"
tempo = 120
style = "choked-four"
[sections]
A = "| C | F | G7 | C |"
"""


def page_versions(tune: Tune, options: Options) -> list[PageVersion]:
    return [
        PageVersion(version.tune.key, version.position, version.arrangement)
        for version in versions(resolve(tune, options))
    ]


@cache
def fonts_of(instrument: str) -> Fonts:
    request = resolve(parse_tune(CHOKED, "choked.toml"), Options(instrument=instrument))
    sound = sound_of(request, lambda what, share: None)
    return choose_fonts(None, sound.voice)


def made_page(tune: Tune, **options: object) -> bytes:
    chosen = Options(**options)  # type: ignore[arg-type]  # as the test says
    return page_bytes(page_versions(tune, chosen), fonts_of(chosen.instrument or tune.instrument))


def example(name: str) -> Tune:
    return read_tune(EXAMPLES / f"{name}.toml")
