"""Checking tune files without making anything.

Conventions: problems come file by file, in the order of the files and inside one in file order.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from accomp.errors import InputError, Problem
from accomp.tune.read import read_tune


def check_files(paths: Iterable[Path]) -> list[Problem]:
    """Everything that is wrong in some tune files; an empty list when they are all good."""
    problems: list[Problem] = []
    for path in paths:
        try:
            read_tune(path)
        except InputError as error:
            problems += error.problems
    return problems
