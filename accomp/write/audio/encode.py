"""Sound into a file's bytes: FLAC, WAV, OGG (Vorbis) or MP3.

Conventions: FLAC and WAV are 16 bit with triangular dither of ±1 step, added once and from a fixed
seed, so that equal sound gives equal bytes; the lossy ones get float sound.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
import numpy.typing as npt

from accomp.write.audio.ogg import ogg_with_tags
from accomp.write.audio.spool import Sound
from accomp.write.audio.tags import NO_TAGS, Tags, flac_with_tags, id3_tag, wav_with_cues
from accomp.write.formats import AudioFormat

_KINDS = {
    AudioFormat.FLAC: ("FLAC", "PCM_16"),
    AudioFormat.WAV: ("WAV", "PCM_16"),
    AudioFormat.OGG: ("OGG", "VORBIS"),
    AudioFormat.MP3: ("MP3", "MPEG_LAYER_III"),
}
# libsndfile: 0 is the best and largest. Vorbis quality is 1 - level; MP3 comes out at 224 kbit/s.
_LEVELS: dict[AudioFormat, dict[str, Any]] = {
    AudioFormat.OGG: {"compression_level": 0.4},
    AudioFormat.MP3: {"compression_level": 0.35, "bitrate_mode": "CONSTANT"},
}
_DITHER_SEED = 16
_WRITE = 16_384  # frames at a time: the Vorbis encoder keeps large writes on its stack


def encode(
    blocks: Iterable[Sound], kind: AudioFormat, *, sample_rate: int, tags: Tags = NO_TAGS
) -> bytes:
    """The file's bytes."""
    import soundfile

    container, subtype = _KINDS[kind]
    buffer = io.BytesIO()
    with soundfile.SoundFile(
        buffer, "w", sample_rate, 2, subtype, format=container, **_LEVELS.get(kind, {})
    ) as file:
        if (
            kind == AudioFormat.WAV
        ):  # the others get their tags below, with more than libsndfile can write
            for name, text in (("title", tags.title), ("comment", tags.comment)):
                if text:
                    setattr(file, name, text)
        for block in dithered(blocks) if subtype == "PCM_16" else blocks:
            for start in range(0, len(block), _WRITE):
                file.write(block[start : start + _WRITE])
        if not file.frames:  # a FLAC file of nothing at all has no head
            file.write(np.zeros((1, 2), np.float32))
    data = buffer.getvalue()
    if kind == AudioFormat.FLAC:
        return flac_with_tags(data, tags)
    if kind == AudioFormat.OGG:
        return ogg_with_tags(data, tags)
    if kind == AudioFormat.MP3:
        return id3_tag(tags) + data
    return wav_with_cues(data, tags.chapters, sample_rate)


def decoded(data: bytes) -> Iterator[Sound]:
    """The sound of an encoded file, block by block."""
    import soundfile

    with soundfile.SoundFile(io.BytesIO(data)) as file:
        while len(block := file.read(65_536, dtype="float32", always_2d=True)):
            yield block


def dithered(blocks: Iterable[Sound]) -> Iterator[npt.NDArray[np.int16]]:
    """16-bit sound; the noise of ±1 step hides the rounding of quiet tails."""
    random = np.random.default_rng(_DITHER_SEED)
    for block in blocks:
        noise = random.random(block.shape, np.float32) - random.random(block.shape, np.float32)
        steps = np.rint(block * np.float32(32_768) + noise)
        yield np.clip(steps, -32_768, 32_767).astype(np.int16)
