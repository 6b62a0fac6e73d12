"""Styles and instruments by name, or by a file of one's own.

Conventions: a name that ends in ".toml" is a file. On the command line it may lie anywhere; a tune
file can only name a file that lies beside it, since what a file says never leads out of its folder.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from accomp.errors import InputError, Problem
from accomp.neck import Instrument, find_instrument, read_instrument
from accomp.rhythm import Style, find_style, read_style

Thing = TypeVar("Thing")
ENDING = ".toml"


def instrument_named(name: str, beside: Path | None = None) -> Instrument:
    """An instrument by name or file; `beside` is the tune file that names it, None for options."""
    return _named(name, beside, find_instrument, read_instrument)


def style_named(name: str, beside: Path | None = None) -> Style:
    """A style by name or file; `beside` is the tune file that names it, None for options."""
    return _named(name, beside, find_style, read_style)


def _named(
    name: str, beside: Path | None, find: Callable[[str], Thing], read: Callable[[Path], Thing]
) -> Thing:
    """Raises `InputError`."""
    if not name.endswith(ENDING):
        return find(name)
    if beside is None:
        return read(Path(name))
    if any(sign in name for sign in "/\\:\0"):
        message = f"{name!r} lies elsewhere: a tune file can only name files in its own folder."
        hint = "Put the file beside the tune, or name it on the command line."
        raise InputError(Problem(message, found=name, expected="a file name", hint=hint))
    return read(beside.parent / name)
