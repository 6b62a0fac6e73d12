"""The words for the files that are written: formats of sound, groups that are heard, pages, paper.

Conventions: each set of words is a type here, and beside it the words in the order in which they
are listed. Nothing heavy is imported, so that a command line can list them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, get_args

# A kind of sound file, by the ending of its name.
AudioFormat = Literal["flac", "wav", "ogg", "mp3"]
AUDIO_FORMATS: tuple[AudioFormat, ...] = get_args(AudioFormat)
# Formats that do not give back exactly the sound that was encoded.
LOSSY: frozenset[AudioFormat] = frozenset({"ogg", "mp3"})

# Which tracks are heard together in a sound file: all, all but the player's, the player's.
MixGroup = Literal["full", "without-player", "player"]
MIX_GROUPS: tuple[MixGroup, ...] = get_args(MixGroup)

# A page of a tune.
PageKind = Literal["chart", "part", "lesson"]
PAGES: tuple[PageKind, ...] = get_args(PageKind)

# Where chord boxes stand on a part: each shape once over the music, over each change, nowhere.
BoxLayout = Literal["top", "changes", "none"]
BOXES: tuple[BoxLayout, ...] = get_args(BoxLayout)

# A size of paper; width and height are in mm.
Paper = Literal["a4", "letter"]
PAPERS: tuple[Paper, ...] = get_args(Paper)
PAPER_MM: Mapping[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}

# The silence before time 0 of a performance in every sound file: many programs that play sound
# swallow the first moments, and with them the first click (common practice, no source).
SILENCE_S = 0.4
