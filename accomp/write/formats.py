"""The words for what is written: formats of sound, groups that are heard, pages, paper.

Conventions: each set has one author here: a type for whoever asks for one of its words, and the
words in the order in which they are listed. Nothing heavy is imported, so that a command line can
list them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, get_args

# A kind of sound file, by the ending of its name.
AudioFormat = Literal["flac", "wav", "ogg", "mp3"]
AUDIO_FORMATS: tuple[AudioFormat, ...] = get_args(AudioFormat)
# What comes out of these is not quite what went in.
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

# Before time 0 of a performance every file of sound is silent: many players of sound swallow the
# first moments, and with them the first click (common practice, no source).
SILENCE_S = 0.4
