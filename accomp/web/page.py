"""The practice page: timeline, sounds, script and style in one file that opens anywhere.

Conventions: text from a tune goes into the page escaped, or as JSON in which `<` is written as an
escape, so that it is never markup. The page's policy forbids every connection. It allows the page's
own script and style by their SHA-256, and the synthesiser, which a browser loads as a separate
module, as a `data:` address.
"""

from __future__ import annotations

import base64
import hashlib
import html
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

from accomp.score.tuning import tuning_performance
from accomp.web.fonts import PageFonts, page_fonts
from accomp.web.licences import about
from accomp.web.notes import Json, PageVersion
from accomp.web.template import BUILT, filled
from accomp.web.timeline import timeline, timeline_json
from accomp.write.audio.fonts import Fonts

_HERE = Path(__file__).parent


def page_bytes(versions: Sequence[PageVersion], fonts: Fonts) -> bytes:
    """The page of these versions of one tune. Raises `SoundError`."""
    performances = [version.performance for version in versions]
    performances.append(tuning_performance(versions[0].arrangement.instrument))
    small = page_fonts(performances, fonts)
    return page_text(timeline(versions, fonts, small), small).encode()


def page_text(value: Json, small: PageFonts) -> str:
    """The page of a timeline."""
    style, script = _style(), _built("page.js")
    title = " ".join(str(value["title"]).split())
    first = value["versions"][0]
    words = (
        value["keys"][first["key"]]["name"],
        value["meter"],
        str(value["style"]).lower(),
        f"{value['instrument']['name'].lower()}, {first['position']}",
    )
    return filled(
        _text("page.html"),
        {
            "policy": html.escape(policy(style, script)),
            "title": html.escape(f"{title}: practice"),
            "heading": html.escape(title),
            "sub": html.escape(" · ".join(words)),
            "style": style,
            "about": about(small),
            "timeline": in_script(timeline_json(value)),
            "band": _base64(small.band),
            "voice": _base64(small.voice),
            "synth": _base64(_built("synth.js").encode()),
            "script": script,
        },
    )


def policy(style: str, script: str) -> str:
    """The content security policy: the page may run its own script and use its own style and
    fonts, and nothing else."""
    return "; ".join(
        (
            "default-src 'none'",
            f"script-src 'sha256-{_sha256(script)}' data: 'wasm-unsafe-eval'",
            f"style-src 'sha256-{_sha256(style)}'",
            "font-src data:",
            "connect-src 'none'",
            "base-uri 'none'",
            "form-action 'none'",
        )
    )


def in_script(text: str) -> str:
    """JSON that may stand in a script element: nothing in it can end the element."""
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


@lru_cache(maxsize=1)
def _style() -> str:
    parts = {
        name: f"data:font/woff2;base64,{_base64((BUILT / f'{name}.woff2').read_bytes())}"
        for name in ("regular", "italic")
    }
    return filled(_text("page.css"), parts)


def _text(name: str) -> str:
    return (_HERE / name).read_text(encoding="utf-8")


@lru_cache(maxsize=2)
def _built(name: str) -> str:
    text = (BUILT / name).read_text(encoding="utf-8")
    if "</script" in text.lower() or "<!--" in text:
        raise AssertionError(f"{name} would end its element")
    return text


def _base64(data: bytes) -> str:
    return base64.b64encode(data).decode("ascii")


def _sha256(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode("ascii")
