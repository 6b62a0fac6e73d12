"""Chapters in a WAV file: cue points with labels, after its sound.

Conventions: "cue " and "LIST adtl labl" chunks of the RIFF WAVE specification (IBM and Microsoft,
"Multimedia Programming Interface and Data Specifications 1.0", 1991); places in frames.
"""

from __future__ import annotations

import struct

from accomp.write.audio.tags import Chapter


def wav_with_cues(data: bytes, chapters: tuple[Chapter, ...], sample_rate: int) -> bytes:
    """The same file with a labelled cue point where each chapter begins."""
    if not chapters:
        return data
    points, labels = [], []
    for number, chapter in enumerate(chapters, 1):
        frame = round(chapter.start_s * sample_rate)
        points.append(struct.pack("<II4sIII", number, frame, b"data", 0, 0, frame))
        labels.append(_chunk(b"labl", struct.pack("<I", number) + chapter.name.encode() + b"\0"))
    cues = _chunk(b"cue ", struct.pack("<I", len(points)) + b"".join(points))
    whole = data + cues + _chunk(b"LIST", b"adtl" + b"".join(labels))
    return whole[:4] + struct.pack("<I", len(whole) - 8) + whole[8:]


def _chunk(kind: bytes, body: bytes) -> bytes:
    return kind + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)
