"""What went wrong, in words and as JSON, with the options that it is about.

Conventions: the rooms below speak of settings by their names; which option sets one is known here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from accomp.cli.options import option_name
from accomp.errors import AccompError, InputError, Problem
from accomp.job.documents import problem_rows


def wrong_usage(error: AccompError) -> bool:
    """Whether all that is wrong is what was set by options, and nothing in a file."""
    return isinstance(error, InputError) and all(
        one.setting and not one.file for one in error.problems
    )


def error_text(error: AccompError) -> str:
    """An error with the options that it is about, or that would help."""
    if isinstance(error, InputError):
        return "\n".join(map(problem_text, error.problems))
    return f"{error}{_helps(error.helps)}"


def problem_text(problem: Problem) -> str:
    """A problem with the options that it is about, or that would help."""
    setting = option_name(problem.setting) if problem.setting else ""
    return f"{replace(problem, setting=setting)}{_helps(problem.helps)}"


def _helps(settings: Sequence[str]) -> str:
    return f" ({', '.join(map(option_name, settings))})" if settings else ""


def error_rows(error: AccompError, file: str = "") -> list[dict[str, object]]:
    """An error for JSON, a row for each problem; `file` is what it is about."""
    return problem_rows(error.problems_in(file))
