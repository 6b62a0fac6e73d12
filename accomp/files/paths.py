"""Paths as people write them: texts and path objects alike, checked where they come in."""

from __future__ import annotations

import os
from pathlib import Path

from accomp.errors import InputError, Problem
from accomp.files.values import WrongValueError, described

StrPath = str | os.PathLike[str]


def taken_path(found: object) -> Path:
    """A path; raises `WrongValueError` for what is none."""
    if not isinstance(found, str | os.PathLike) or not os.fspath(found):
        raise WrongValueError
    return Path(os.fsdecode(found))


def as_path(found: object, what: str = "a file") -> Path:
    """The path of `what`. Raises `InputError` for anything that is no path."""
    try:
        return taken_path(found)
    except WrongValueError:
        kind = "an empty text" if found == "" else described(found)
        raise InputError(
            Problem(
                f"the path of {what} is needed here, and this is {kind}.",
                found=type(found).__name__,
                expected="a text or a path object",
                hint='Write it as "folder/name.toml".',
            )
        ) from None
