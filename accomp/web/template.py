"""Templates of pages, and where what is built for pages lies.

Conventions: places are written `{{name}}`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

BUILT = Path(__file__).parent / "built"
_PLACE = re.compile(r"\{\{(\w+)\}\}")


def filled(template: str, texts: Mapping[str, str]) -> str:
    """A template with its places filled, once: places in what is filled in are not looked at."""
    return _PLACE.sub(lambda match: texts[match[1]], template)
