"""Cue sheets: where the parts of a long audio file begin.

Conventions: the common text form (FILE, TRACK, TITLE, INDEX), times as minutes:seconds:frames with
75 frames a second. A double quote in a title becomes a single one: the form cannot hold it.
"""

from __future__ import annotations

from collections.abc import Sequence

from accomp.files.text import one_line
from accomp.score.join import Cue

FRAMES = 75
_TYPES = {"mp3": "MP3"}


def cue_sheet(title: str, audio: str, cues: Sequence[Cue], silence_s: float = 0.0) -> str:
    """The cue sheet of an audio file name, in which `silence_s` of silence come first.

    What begins with the tune begins with the file.
    """
    kind = _TYPES.get(audio.rsplit(".", 1)[-1], "WAVE")
    lines = [f'TITLE "{_text(title)}"', f'FILE "{_text(audio)}" {kind}']
    for number, cue in enumerate(cues, 1):
        frames = round((cue.start_s + (silence_s if cue.start_s > 0 else 0)) * FRAMES)
        minutes, rest = divmod(frames, 60 * FRAMES)
        lines += [
            f"  TRACK {number:02d} AUDIO",
            f'    TITLE "{_text(cue.name)}"',
            f"    INDEX 01 {minutes:02d}:{rest // FRAMES:02d}:{rest % FRAMES:02d}",
        ]
    return "\n".join(lines) + "\n"


def _text(text: str) -> str:
    return one_line(text).replace('"', "'")
