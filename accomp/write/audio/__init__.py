"""A performance as sound in a file: rendered dry by stems, a small room, one gain, a limiter."""

from accomp.write.audio.files import write_audio, write_groups
from accomp.write.audio.mix import GROUPS, Group, render_stems
from accomp.write.audio.report import AudioReport

__all__ = [
    "GROUPS",
    "AudioReport",
    "Group",
    "render_stems",
    "write_audio",
    "write_groups",
]
