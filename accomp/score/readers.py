"""Who reads a part, and how the strummed part is written for them.

Nothing heavy is imported here, so that a command line can list both.
"""

from __future__ import annotations

from enum import StrEnum


class PlayerPart(StrEnum):
    """How the strummed part is written."""

    BOTH = "both"  # notation with TAB under it
    NOTATION = "notation"
    TAB = "tab"
    SLASH = "slash"  # rhythm slashes with chord symbols
    NONE = "none"


class Reader(StrEnum):
    """The player a part is written for."""

    CONCERT = "concert"  # reads what sounds
    B_FLAT = "Bb"  # reads a major second above the sound
    E_FLAT = "Eb"  # reads a major sixth above the sound
    BASS = "bass"  # reads what sounds in the bass clef


# The words for one way of writing it on its own.
PLAYER_PARTS = tuple(part.value for part in PlayerPart if part is not PlayerPart.NONE)
READERS = tuple(reader.value for reader in Reader)
