"""The audio formats and paper sizes that can be asked for.

Nothing heavy is imported here, so that a command line can list both.
"""

from __future__ import annotations

from enum import StrEnum


class AudioFormat(StrEnum):
    """A kind of sound file, by the ending of its name."""

    FLAC = "flac"
    WAV = "wav"
    OGG = "ogg"
    MP3 = "mp3"

    @property
    def lossy(self) -> bool:
        """Whether what comes out is not quite what went in."""
        return self in {AudioFormat.OGG, AudioFormat.MP3}


class MixGroup(StrEnum):
    """Which tracks are heard together in a sound file."""

    FULL = "full"
    WITHOUT_PLAYER = "without-player"
    PLAYER = "player"


class PageKind(StrEnum):
    """A page of a tune."""

    CHART = "chart"
    PART = "part"
    LESSON = "lesson"


class BoxLayout(StrEnum):
    """Where chord boxes stand on a part."""

    TOP = "top"  # each shape once, over the music
    CHANGES = "changes"  # over each change
    NONE = "none"


class Paper(StrEnum):
    """A size of paper."""

    A4 = "a4"
    LETTER = "letter"

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height."""
        return {Paper.A4: (210.0, 297.0), Paper.LETTER: (215.9, 279.4)}[self]


AUDIO_FORMATS = tuple(each.value for each in AudioFormat)
BOXES = tuple(box.value for box in BoxLayout)
PAGES = tuple(page.value for page in PageKind)
PAPERS = tuple(paper.value for paper in Paper)

# Before time 0 of a performance every file of sound is silent: many players of sound swallow the
# first moments, and with them the first click (common practice, no source).
SILENCE_S = 0.4
