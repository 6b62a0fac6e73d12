"""What a reader finds wrong or worth saying in one file, collected before anything is raised.

Conventions: problems come out in file order. A few hundred are kept and the rest counted: nobody
reads more, and a wrong file of a megabyte could hold half a million.
"""

from __future__ import annotations

from accomp.errors import InputError, Problem
from accomp.files.toml import Document, TomlPath

MOST_PROBLEMS = 200


class Findings:
    """The problems and notices of one document."""

    def __init__(self, document: Document) -> None:
        self.document = document
        self.problems: list[Problem] = []
        self.notices: list[str] = []
        self._left_out = 0

    @property
    def full(self) -> bool:
        """Whether as many problems are known as are kept."""
        return len(self.problems) >= MOST_PROBLEMS

    def wrong(
        self,
        message: str,
        *path: str | int,
        key: bool = False,
        offset: int | None = None,
        found: str = "",
        expected: str = "",
        hint: str = "",
    ) -> None:
        """Add a problem at a path of the document, as `Document.problem` places it."""
        if self.full:
            self._left_out += 1
            return
        self.problems.append(
            self.document.problem(
                message,
                *path,
                key=key,
                offset=offset,
                found=found,
                expected=expected,
                hint=hint,
            )
        )

    def not_a(self, kind: str, value: object, path: TomlPath, hint: str = "") -> None:
        """Add the problem that a value has the wrong TOML type."""
        name = path[-1] if isinstance(path[-1], str) else path[-2]
        self.wrong(
            f"{name!r} must be {kind}, and this is {type_name(value)}.",
            *path,
            found=short(value),
            expected=kind,
            hint=hint,
        )

    def raise_if_any(self) -> None:
        """Raise `InputError` with all problems, in file order, when there are any."""
        if not self.problems:
            return
        problems = sorted(self.problems, key=lambda problem: (problem.line, problem.column))
        if self._left_out:
            message = f"{self._left_out} more things are wrong in this file."
            hint = "They are shown when these are put right."
            problems.append(Problem(message, self.document.file, hint=hint))
        raise InputError(problems)


def type_name(value: object) -> str:
    """What a player would call the TOML type of a value."""
    match value:
        case bool():
            return "true or false"
        case str():
            return "a text in quotes"
        case int() | float():
            return "a number"
        case list():
            return "a list"
        case dict():
            return "a table"
    return "a date or a time"


def short(value: object) -> str:
    """A value as found, short enough to print."""
    if isinstance(value, bool):
        text = "true" if value else "false"
    elif isinstance(value, (list, dict)):
        text = "[...]" if isinstance(value, list) else "{...}"
    else:
        text = str(value)
    return text if len(text) <= 60 else f"{text[:57]}..."
