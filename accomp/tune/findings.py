"""What a reader finds wrong or worth saying in one file, collected before anything is raised.

Conventions: problems come out in file order. Reading ends at a few hundred: nobody reads more, and
a wrong file of a megabyte could hold half a million.
"""

from __future__ import annotations

from collections.abc import Iterable

from accomp.errors import InputError, Problem
from accomp.files.toml import Document, TomlPath, unknown_keys

MOST_PROBLEMS = 200


class EnoughError(Exception):
    """Raised by the findings when no more problems are wanted; never leaves the room."""


class Findings:
    """The problems and notices of one document."""

    def __init__(self, document: Document) -> None:
        self.document = document
        self.problems: list[Problem] = []
        self.notices: list[str] = []

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
        self._add(
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

    def unknown(self, path: TomlPath, known: Iterable[str]) -> None:
        """Add a problem for each key of the table at `path` that is not known."""
        for problem in unknown_keys(self.document, path, known):
            self._add(problem)

    def _add(self, problem: Problem) -> None:
        if len(self.problems) >= MOST_PROBLEMS:
            raise EnoughError
        self.problems.append(problem)

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
        if len(problems) >= MOST_PROBLEMS:
            message = (
                f"more than {MOST_PROBLEMS - 1} things are wrong; the file was not read further."
            )
            problems.append(Problem(message, self.document.file, hint="Is it the right file?"))
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
    elif isinstance(value, int) and value.bit_length() > 200:
        text = "a number of very many digits"  # Python itself refuses to print some of them
    elif isinstance(value, (list, dict)):
        text = "[...]" if isinstance(value, list) else "{...}"
    else:
        text = str(value)
    return text if len(text) <= 60 else f"{text[:57]}..."
