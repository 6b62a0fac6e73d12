"""The task that gives the desk a timeline to play, as a practice page has one, and whole fonts.

Conventions: a practice page has fonts cut down to its notes. The desk's page fetches the whole
fonts once from this machine, so that another style or key is heard at once.
"""

from __future__ import annotations

import contextlib
import tempfile
from pathlib import Path
from typing import Any

from accomp.files.folders import working_here
from accomp.job.options import Options
from accomp.job.request import Request, resolve
from accomp.job.sound import sound_of
from accomp.job.versions import versions
from accomp.rhythm import read_style
from accomp.tune.read import parse_tune
from accomp.web.desk.processes import Tell
from accomp.web.desk.tasks import request_of
from accomp.web.fonts import PageFonts, gain_of_voice
from accomp.web.notes import PageVersion
from accomp.web.timeline import timeline
from accomp.write.audio.fonts import choose_fonts

# The tune with which a style is heard while it is written: home, away and back, in eight bars.
_ROUND = """title = "A round"
key = "C"
meter = "{meter}"
tempo = {tempo:g}
[sections]
A = "| C | C | F | C | Am | Dm | G7 | C |"
"""


def _of_style(asked: dict[str, Any]) -> Request:
    """The request for `_ROUND` in the style of a text."""
    name = Path(asked["file"]).name
    with contextlib.ExitStack() as stack:
        with working_here():
            folder = stack.enter_context(tempfile.TemporaryDirectory(prefix="accomp-"))
            path = Path(folder) / name
            path.write_text(asked["style"], encoding="utf-8")
        style = read_style(path)
        text = _ROUND.format(meter=style.meter, tempo=sum(style.tempo) / 2)
        return resolve(parse_tune(text), Options(style=str(path), choruses=2))


def sounded(asked: dict[str, Any], tell: Tell) -> dict[str, Any]:
    """The timeline of a text, and the SHA-256 and path of each font that plays it."""
    request = _of_style(asked) if "style" in asked else request_of(asked)
    sound = sound_of(request, tell)
    fonts = choose_fonts(sound.soundfont, sound.voice)
    found = [
        PageVersion(version.tune.key, version.position, version.arrangement)
        for version in versions(request)
        if version.tempo == max(request.tempos)
    ]
    gain_db = gain_of_voice([version.performance for version in found], fonts)
    value = timeline(found, fonts, PageFonts(b"", b"", gain_db, fonts.band.name))
    value["voiced"] = fonts.voice is not None  # the timeline saw only the empty fonts given to it
    files = {"band": (sound.soundfont_sha256, str(fonts.band.path))}
    if fonts.voice is not None:
        files["voice"] = (sound.voice_sha256, str(fonts.voice.path))
    return {"timeline": value, "fonts": files, "notices": [*sound.notices, *fonts.notices]}
