"""The options that a browser may set: those of the command line that name no file.

Conventions: every value that could be a path is refused here, so that a browser can open only files
of the shelf. A style or an instrument is a known name, a style also a file of the shelf.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any

from accomp.errors import InputError, Problem
from accomp.files import data
from accomp.files.toml import ENDING, nearest
from accomp.files.values import described, short
from accomp.job.options import Options

FREE = frozenset(
    "keys tempos positions reach_mm plan vocabulary closed mute choruses count_in only "
    "audio_format parts readers plain_clef mxl paper seed melody pack ladder again".split()
)
_MANY = ("keys", "tempos", "positions", "only", "parts", "readers", "ladder")


def options_of(asked: object, beside: Collection[str] = (), folder: Path | None = None) -> Options:
    """The options of a JSON object; `beside` are style files in the tune's `folder`.

    Raises `InputError` with every option that is unknown or cannot be meant.
    """
    if not isinstance(asked, Mapping):
        raise InputError(Problem(f"options are an object, and this is {described(asked)}."))
    problems: list[Problem] = []
    given: dict[str, Any] = {}
    for name, value in asked.items():
        if value is None:
            continue
        if name in FREE:
            given[name] = tuple(value) if name in _MANY and isinstance(value, list) else value
        elif name in data.FOLDERS:
            known = data.names(data.FOLDERS[name])
            if value in known:
                given[name] = value
            elif name == "style" and folder is not None and _stem(value) in beside:
                given[name] = str(folder / f"{_stem(value)}{ENDING}")
            else:
                problems.append(_unknown(name, value, known))
        else:
            close = nearest(name, [*FREE, *data.FOLDERS])
            hint = f"Did you mean {close!r}?" if close else ""
            message = f"there is no option {short(name)!r} here."
            problems.append(Problem(message, found=short(name), hint=hint, setting=short(name)))
    if problems:
        raise InputError(problems)
    return Options(**given)


def _stem(value: object) -> object:
    """The name on the shelf of a style that may be named with its ending, as in a tune file."""
    return value.removesuffix(ENDING) if isinstance(value, str) else value


def _unknown(name: str, value: object, known: Collection[str]) -> Problem:
    close = nearest(value, known) if isinstance(value, str) else None
    hint = f"Did you mean {close!r}?" if close else ""
    message = f"{short(value)!r} is no known {name}."
    expected = ", ".join(sorted(known))
    return Problem(message, found=short(value), expected=expected, hint=hint, setting=name)
