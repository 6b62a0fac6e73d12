"""accomp: shapes, positions, written parts and play-along tracks for rhythm players.

The names in `__all__` are the public API; they are imported when they are first asked for, so that
`import accomp` costs next to nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from accomp.errors import (
        AccompError,
        ChordError,
        InputError,
        NoShapeError,
        OutputError,
        Problem,
        SoundError,
    )
    from accomp.harmony import Chord, Key, Pitch, parse_chord
    from accomp.job.make import make_tune
    from accomp.job.options import Options
    from accomp.neck import Instrument, Plan, Shape, find_instrument, playable_shapes
    from accomp.rhythm import Style, find_style
    from accomp.tune import Tune, read_tune, transpose_tune

__version__ = "0.1.0"

_HOMES = {
    "AccompError": "errors",
    "Chord": "harmony",
    "ChordError": "errors",
    "InputError": "errors",
    "Instrument": "neck",
    "Key": "harmony",
    "NoShapeError": "errors",
    "Options": "job.options",
    "OutputError": "errors",
    "Pitch": "harmony",
    "Plan": "neck",
    "Problem": "errors",
    "Shape": "neck",
    "SoundError": "errors",
    "Style": "rhythm",
    "Tune": "tune",
    "find_instrument": "neck",
    "find_style": "rhythm",
    "make_tune": "job.make",
    "parse_chord": "harmony",
    "playable_shapes": "neck",
    "read_tune": "tune",
    "transpose_tune": "tune",
}

__all__ = [
    "AccompError",
    "Chord",
    "ChordError",
    "InputError",
    "Instrument",
    "Key",
    "NoShapeError",
    "Options",
    "OutputError",
    "Pitch",
    "Plan",
    "Problem",
    "Shape",
    "SoundError",
    "Style",
    "Tune",
    "find_instrument",
    "find_style",
    "make_tune",
    "parse_chord",
    "playable_shapes",
    "read_tune",
    "transpose_tune",
]


# What rooms make that others ask for without knowing them: the kinds of file of a room to the right
# of the job (`job/outside.py`), the desk that the command line opens. The package's front alone
# knows all rooms.
_MAKERS = {"page": ("web.item", "page_item"), "desk": ("web.desk.serve", "serve")}


def _maker(kind: str) -> object:
    import importlib

    home, name = _MAKERS[kind]
    return getattr(importlib.import_module(f"accomp.{home}"), name)


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module 'accomp' has no attribute {name!r}")
    import importlib

    return getattr(importlib.import_module(f"accomp.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
