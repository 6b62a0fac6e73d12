"""Styles by name and by file.

Conventions: a style's name is its file name without ".toml". A user's own folder of styles wins
over the package's; see `accomp.files.data`.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from accomp.files import data
from accomp.files.toml import read_toml
from accomp.rhythm.read_style import style_from
from accomp.rhythm.style import Style
from accomp.time import Meter

_SPOKEN = {
    2: "two",
    3: "three",
    4: "four",
    5: "five",
    6: "six",
    8: "eight",
    9: "nine",
    12: "twelve",
}


def read_style(path: Path) -> Style:
    """Read a style file. Raises `InputError` with every problem in it, each with its place."""
    return style_from(read_toml(path), path.stem)


def find_style(name: str) -> Style:
    """The style of a name, or of a user's file ("kitchen-four.toml").

    Raises `InputError`, without a place when there is none of that name.
    """
    if data.as_name(name, "a style").endswith(".toml"):
        return read_style(Path(name))
    path = data.look_up("styles", name, "a style")
    return _read_once(path, path.stat().st_mtime_ns)


@cache
def _read_once(path: Path, _changed: int) -> Style:
    return read_style(path)


def style_names() -> tuple[str, ...]:
    """All names, sorted."""
    return data.names("styles")


def plain_name(meter: Meter) -> str:
    """The name of the plain style of a meter, as the meter is said aloud: "plain-six-eight"."""
    return f"plain-{_SPOKEN[meter.count]}-{_SPOKEN[meter.unit.denominator]}"


def plain_style(meter: Meter) -> Style:
    """The style that a tune without one gets: even full strokes, root and fifth."""
    return find_style(plain_name(meter))
