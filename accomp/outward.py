"""How a value gets its picture, file or bridge object from a room to the right of its own.

People expect methods such as `performance.to_midi()` on the value itself. But the room of the value
must not import the room that makes the file. So the method calls `made` here, which asks
`accomp/__init__.py`, the only module that knows all rooms.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal, cast

import accomp

# Kinds of result; `_MAKERS` of `accomp/__init__.py` has the function for each.
OutwardKind = Literal[
    "page", "desk", "drawing", "page piece", "midi", "musicxml", "packed musicxml", "mido",
    "pretty_midi", "music21", "tune of music21",
]  # fmt: skip


def made(kind: OutwardKind, *things: object) -> Any:
    """The result of a kind's maker, called with `things`; the calling method states its type."""
    return cast(Callable[..., Any], accomp._maker(kind))(*things)


class Pictured:
    """Base class of values that a notebook shows as an SVG drawing."""

    __slots__ = ()

    def _repr_svg_(self) -> str:
        return str(made("drawing", self))


class Shown:
    """Base class of values that a notebook shows as a piece of HTML."""

    __slots__ = ()

    def _repr_html_(self) -> str:
        return str(made("page piece", self))
