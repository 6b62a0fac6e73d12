"""Reading single values of an instrument, hand or cost file, and collecting what is wrong.

Conventions: every wrong value is reported with its place; a value that is wrong is replaced by
its default (or the least allowed) so that the rest of the file is still read.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from pathlib import Path

from accomp.errors import InputError, Problem
from accomp.files.toml import read_toml, unknown_keys


class Fields:
    """The values of one flat TOML file. `check` raises all problems at once."""

    def __init__(self, path: Path, known: Iterable[str]) -> None:
        self.document = read_toml(path)
        self.problems: list[Problem] = list(unknown_keys(self.document, (), known))

    def wrong(self, key: str, message: str, expected: str, hint: str = "") -> None:
        """Note that the value of `key` is wrong; `message` goes on from "key = value ..."."""
        value = self.document.data.get(key)
        if value is None:
            message = f"{key!r} is missing: expected {expected}."
            hint = hint or f"Add a line `{key} = ...`."
            self.problems.append(self.document.problem(message, expected=expected, hint=hint))
            return
        self.problems.append(
            self.document.problem(
                f"{key} = {value!r} {message}: expected {expected}.",
                key,
                found=str(value),
                expected=expected,
                hint=hint,
            )
        )

    def text(self, key: str, default: str) -> str:
        """A text, or `default` when it is not given."""
        value = self.document.data.get(key, default)
        if isinstance(value, str) and value.strip():
            return value
        self.wrong(key, "is not a text", "a text in quotes")
        return default

    def number(self, key: str, *, least: float, most: float, default: float | None = None) -> float:
        """A number from `least` to `most`; without `default` it must be given."""
        value = self.document.data.get(key, default)
        expected = f"a number from {least:g} to {most:g}"
        if (
            isinstance(value, bool)
            or not isinstance(value, int | float)
            or not math.isfinite(value)
        ):
            self.wrong(key, "is not a number", expected)
        elif not least <= value <= most:
            self.wrong(key, "is out of range", expected)
        else:
            return float(value)
        return least

    def whole(self, key: str, *, least: int, most: int, default: int | None = None) -> int:
        """A whole number from `least` to `most`; without `default` it must be given."""
        value = self.document.data.get(key, default)
        expected = f"a whole number from {least} to {most}"
        if isinstance(value, bool) or not isinstance(value, int):
            self.wrong(key, "is not a whole number", expected)
        elif not least <= value <= most:
            self.wrong(key, "is out of range", expected)
        else:
            return value
        return least

    def check(self) -> None:
        """Raise `InputError` with everything that was wrong, in file order."""
        if self.problems:
            raise InputError(sorted(self.problems, key=lambda one: (one.line, one.column)))
