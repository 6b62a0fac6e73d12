"""Problems as the desk says them, and which values of a tune's head are fields of the page."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from accomp.errors import Problem

FIELDS = tuple("title composer key meter tempo style instrument form begin end".split())
_KEYS = ("file", "line", "column", "found", "expected", "hint", "message")


def problem_rows(problems: Iterable[Problem]) -> list[dict[str, Any]]:
    """Problems as `accomp check` prints them as JSON; a file is called by its name alone, where it
    lies is nobody's business."""
    return [
        {key: getattr(one, key) for key in _KEYS} | {"file": Path(one.file).name}
        for one in problems
    ]
