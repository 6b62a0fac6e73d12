"""A performance as sound in a file: rendered dry by stems, a small room, one gain, a limiter."""

from accomp.write.audio.files import AudioReport, write_audio, write_groups
from accomp.write.audio.mix import GROUPS, Rendering, TrackChoice

__all__ = [
    "GROUPS",
    "AudioReport",
    "Rendering",
    "TrackChoice",
    "write_audio",
    "write_groups",
]
