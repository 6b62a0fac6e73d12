"""What rooms to the right make of a value that is asked for it: its picture, its file, another
library's object of it.

A performance is asked for its MIDI file, a tune for its picture, by methods of their own, since
that is where people look. Their rooms must not know the rooms that make these, so that a method
asks here, and here the package's front is asked, which alone knows all rooms.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal, cast

import accomp

# What can be asked for; the front says which function makes each.
OutwardKind = Literal[
    "page", "desk", "drawing", "page piece", "midi", "musicxml", "packed musicxml", "mido",
    "pretty_midi", "music21", "tune of music21",
]  # fmt: skip


def made(kind: OutwardKind, *things: object) -> Any:
    """What the front's maker of a kind makes of some things; the method that asks says its type."""
    return cast(Callable[..., Any], accomp._maker(kind))(*things)


class Pictured:
    """A value that a notebook shows as a drawing."""

    __slots__ = ()

    def _repr_svg_(self) -> str:
        return str(made("drawing", self))


class Shown:
    """A value that a notebook shows as a piece of a page."""

    __slots__ = ()

    def _repr_html_(self) -> str:
        return str(made("page piece", self))
