"""Data that a program gives where others write a file: read and judged as a file is.

Conventions: there are no lines to point at, but those of a text in the data; a mistake in such a
text is told with its line and column there, and what the text is called stands where a file's name
would.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

from accomp.errors import Problem
from accomp.files.places import Places
from accomp.files.toml import Document, TomlPath, place_after


@dataclass(frozen=True)
class GivenData(Document):
    """A document without a file; `called` says how a text at a path is called."""

    called: Mapping[TomlPath, str] = field(default_factory=dict)

    @classmethod
    def of(cls, data: Mapping[str, object], called: Mapping[TomlPath, str]) -> GivenData:
        """Data in Python's words, as a file would have them."""
        return cls(plain_data(data), "", "", Places(), called=called)

    def place(self, *path: str | int) -> tuple[int, int]:
        """Nowhere."""
        return 0, 0

    def key_place(self, *path: str | int) -> tuple[int, int]:
        """Nowhere."""
        return 0, 0

    def inside(self, offset: int, *path: str | int) -> tuple[int, int]:
        """Line and column of a character in the text at a path."""
        text: Any = self.data
        for step in path:
            text = text[step]
        return place_after(str(text)[:offset])

    def problem(self, message: str, *path: str | int, **more: Any) -> Problem:
        """A problem, named by its text where it lies in one."""
        told = super().problem(message, *path, **more)
        if not isinstance(more.get("at"), int):
            return told
        return replace(told, file=self.called.get(path, ".".join(map(str, path))))


def plain_data(value: object) -> Any:
    """A value of Python's as a TOML file would give it: mappings, lists, numbers and texts.

    What is written as a text (a key, a meter, a path, a fraction) becomes one; anything else stays
    as it is, for the reader to refuse.
    """
    if isinstance(value, Mapping):
        return {str(key): plain_data(one) for key, one in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str | bytes):
        return [plain_data(one) for one in value]
    if isinstance(value, os.PathLike):
        return os.fsdecode(value)
    if isinstance(value, Fraction):
        return int(value) if value.denominator == 1 else str(value)
    return value
