"""Data given by a Python program instead of a file: read and checked as a file is.

Conventions: only texts in the data have lines and columns. A problem in such a text has its line
and column there, and the name of the text (`called`) in place of a file name.
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
    """A document without a file; `called` has the names of texts by their paths in the data."""

    called: Mapping[TomlPath, str] = field(default_factory=dict)

    @classmethod
    def of(cls, data: Mapping[str, object], called: Mapping[TomlPath, str]) -> GivenData:
        """A document of Python values, converted to the values that a TOML file has."""
        return cls(plain_data(data), "", "", Places(), called=called)

    def place(self, *path: str | int) -> tuple[int, int]:
        """(0, 0): values have no place."""
        return 0, 0

    def key_place(self, *path: str | int) -> tuple[int, int]:
        """(0, 0): keys have no place."""
        return 0, 0

    def inside(self, offset: int, *path: str | int) -> tuple[int, int]:
        """Line and column of a character in the text at a path."""
        text: Any = self.data
        for step in path:
            text = text[step]
        return place_after(str(text)[:offset])

    def problem(self, message: str, *path: str | int, **more: Any) -> Problem:
        """A problem; one inside a text has the text's name as its file."""
        told = super().problem(message, *path, **more)
        if not isinstance(more.get("at"), int):
            return told
        return replace(told, file=self.called.get(path, ".".join(map(str, path))))


def plain_data(value: object) -> Any:
    """A Python value as a TOML file would have it: mappings, lists, numbers and texts.

    A path or fraction becomes a text. Any other type stays as it is; the reader refuses it.
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
