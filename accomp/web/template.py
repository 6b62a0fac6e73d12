"""Templates of pages, and the folder of the files that are built for pages.

Conventions: places are written `{{name}}`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

BUILT = Path(__file__).parent / "built"
_PLACE = re.compile(r"\{\{(\w+)\}\}")


def filled(template: str, texts: Mapping[str, str]) -> str:
    """A template with its places filled; text that looks like a place in `texts` stays as it is."""
    return _PLACE.sub(lambda match: texts[match[1]], template)
