"""Problems as the desk says them, and which values of a tune's head are fields of the page."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from accomp.errors import Problem
from accomp.job import documents

FIELDS = tuple("title composer key meter tempo style instrument form begin end".split())


def problem_rows(problems: Iterable[Problem]) -> list[dict[str, Any]]:
    """Problems as `accomp check` prints them as JSON; a file is called by its name alone, where it
    lies is nobody's business."""
    return [row | {"file": Path(row["file"]).name} for row in documents.problem_rows(problems)]
