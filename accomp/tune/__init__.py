"""Tunes: the model, the tune file, transposition, names of files.

This room can be called: `accomp.tune("| C | G7 | C |", key="C")` is a tune built in code.
"""

import sys
from types import ModuleType
from typing import Unpack, cast

from accomp.tune import coded
from accomp.tune.coded import BarsGiven, TuneFacts
from accomp.tune.model import Bar, Beginning, ChordSpan, Chorus, Finish, Repeat, Section, Tune
from accomp.tune.read import parse_tune, read_tune
from accomp.tune.road import Stage
from accomp.tune.slug import key_slug, slug, unique_slugs
from accomp.tune.transpose import transpose_tune
from accomp.tune.unfold import PlayedBar, Spot, planned_bars, unfold
from accomp.tune.write import tune_toml

__all__ = [
    "Bar",
    "Beginning",
    "ChordSpan",
    "Chorus",
    "Finish",
    "PlayedBar",
    "Repeat",
    "Section",
    "Spot",
    "Stage",
    "Tune",
    "TuneFacts",
    "key_slug",
    "parse_tune",
    "planned_bars",
    "read_tune",
    "slug",
    "transpose_tune",
    "tune_toml",
    "unfold",
    "unique_slugs",
]


class TuneRoom(ModuleType):
    """The room itself: a module that is called to build a tune."""

    def __call__(self, bars: BarsGiven, /, **facts: Unpack[TuneFacts]) -> Tune:
        """Build a tune in code; see `accomp.tune.coded.tune`."""
        return coded.tune(bars, **facts)


# `accomp.tune` is the name by which this room is imported, and the call with which people build a
# tune. A class of its own lets the module be both.
sys.modules[__name__].__class__ = TuneRoom
room = cast(TuneRoom, sys.modules[__name__])
