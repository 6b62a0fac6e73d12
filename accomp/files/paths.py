"""Paths that callers give, as texts or path objects, checked on entry."""

from __future__ import annotations

import os
from pathlib import Path

from accomp.errors import InputError, Problem
from accomp.files.values import WrongValueError, described

StrPath = str | os.PathLike[str]


def taken_path(found: object) -> Path:
    """`found` as a path. Raises `WrongValueError` for anything that is no path."""
    if not isinstance(found, str | os.PathLike) or not os.fspath(found):
        raise WrongValueError
    path = os.fsdecode(found)
    try:
        held = "\0" not in path and os.fsencode(path)
    except UnicodeEncodeError:  # a lone surrogate that stands for no byte
        held = False
    if not held:
        raise WrongValueError(instead="is a name that no folder can hold")
    return Path(path)


def as_path(found: object, what: str = "a file") -> Path:
    """`found` as the path of `what`. Raises `InputError` for anything that is no path."""
    try:
        return taken_path(found)
    except WrongValueError:
        kind = "an empty text" if found == "" else described(found)
        raise InputError(
            Problem(
                f"the path of {what} is needed here, and this is {kind}.",
                found=type(found).__name__,
                expected="a text or a path object",
                hint='Write it as "folder/name".',
            )
        ) from None
