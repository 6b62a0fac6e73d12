"""Problems as rows of the desk's answers, and the values of a tune's head that the page edits."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from accomp.errors import Problem
from accomp.job import documents

FIELDS = tuple("title composer key meter tempo style instrument form begin end".split())


def problem_rows(problems: Iterable[Problem]) -> list[dict[str, Any]]:
    """Problems as `accomp check` prints them as JSON, but with a file's name in place of its path,
    which the browser need not know."""
    return [row | {"file": Path(row["file"]).name} for row in documents.problem_rows(problems)]
