"""Errors as text and as JSON, with the options and commands that they are about.

Conventions: other rooms name settings and steps to take. Only this room knows the option for a
setting and the command for a step; this holds for text and JSON.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from accomp.cli.options import option_name
from accomp.errors import AccompError, InputError, Problem
from accomp.job.documents import problem_rows
from accomp.neck.plan import NOT_COMPARED

# Hints that name a command, in place of the hints of other rooms.
_STEPS = {
    "read_a_leadsheet": "README.md shows one; `accomp read` makes one from a lead sheet.",
    "read_this_leadsheet": "Make a tune file of it with `accomp read {file}`.",
}
_OTHER_POSITIONS = "See `accomp positions` for others."


def wrong_usage(error: AccompError) -> bool:
    """Whether all problems are wrong options, and none is in a file."""
    return isinstance(error, InputError) and all(
        one.setting and not one.file for one in error.problems
    )


def error_text(error: AccompError) -> str:
    """An error as text, with the options that are wrong or would help."""
    if isinstance(error, InputError):
        return "\n".join(map(problem_text, error.problems))
    return f"{error}{_helps(error.helps)}"


def problem_text(problem: Problem) -> str:
    """A problem as text, with the options that are wrong or would help."""
    problem = _with_command(problem)
    setting = option_name(problem.setting) if problem.setting else ""
    named = (problem.setting,) if problem.file and problem.setting else ()  # which file it is
    return f"{replace(problem, setting=setting)}{_helps((*named, *problem.helps))}"


def notice_text(notice: str) -> str:
    """A notice, with the command that shows more if there is one."""
    return notice.replace(NOT_COMPARED, _OTHER_POSITIONS)


def _with_command(problem: Problem) -> Problem:
    """The problem, with a hint that names the command that helps if there is one."""
    steps = [step for step in problem.helps if step in _STEPS]
    if not steps:
        return problem
    hint = " ".join(_STEPS[step].format(file=problem.file) for step in steps)
    rest = tuple(one for one in problem.helps if one not in steps)
    return replace(problem, hint=hint, helps=rest)


def _helps(settings: Sequence[str]) -> str:
    return f" ({', '.join(map(option_name, settings))})" if settings else ""


def error_rows(error: AccompError, file: str = "") -> list[dict[str, object]]:
    """An error for JSON, a row for each problem; `file` is the file that it is about."""
    return problem_table(error.problems_in(file))


def problem_table(problems: Iterable[Problem]) -> list[dict[str, object]]:
    """Problems for JSON, a row for each."""
    return problem_rows(map(_with_command, problems))
