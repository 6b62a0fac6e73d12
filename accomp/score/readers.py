"""The words for the readers of a part, and for the ways of writing one.

Nothing heavy is imported here, so that a command line can list the words.
"""

from __future__ import annotations

from typing import Literal, get_args

# One way of writing the strummed part on its own: notation with TAB under it, either of these, or
# rhythm slashes with chord symbols.
AskedPart = Literal["both", "notation", "tab", "slash"]
PLAYER_PARTS: tuple[AskedPart, ...] = get_args(AskedPart)
# How the strummed part of a score is written; "none" leaves it out.
PlayerPart = Literal[AskedPart, "none"]
# What can be written: "score" is notation, TAB and bass.
PartName = Literal["score", AskedPart, "bass"]
PARTS: tuple[PartName, ...] = get_args(PartName)

# The player a part is written for: one who reads what sounds, a major second above it, a major
# sixth above it, or what sounds in the bass clef.
Reader = Literal["concert", "Bb", "Eb", "bass"]
READERS: tuple[Reader, ...] = get_args(Reader)
