"""Sound into a file's bytes: FLAC, WAV, OGG (Vorbis) or MP3.

Conventions: FLAC and WAV are 16 bit with triangular dither of ±1 step, added once and from a fixed
seed, so that equal sound gives equal bytes; the lossy ones get float sound. Tags are text by name:
"title" and whatever else the caller has ("key", "tempo", "position").
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

from accomp.write.audio.ogg import with_serial
from accomp.write.audio.spool import Sound

FORMATS = ("flac", "wav", "ogg", "mp3")
LOSSY = frozenset({"ogg", "mp3"})  # what comes out is not quite what went in
_KINDS = {
    "flac": ("FLAC", "PCM_16"),
    "wav": ("WAV", "PCM_16"),
    "ogg": ("OGG", "VORBIS"),
    "mp3": ("MP3", "MPEG_LAYER_III"),
}
# libsndfile: 0 is the best and largest. Vorbis quality is 1 - level; MP3 at 192 kbit/s.
_LEVELS: dict[str, dict[str, Any]] = {
    "ogg": {"compression_level": 0.4},
    "mp3": {"compression_level": 0.35, "bitrate_mode": "CONSTANT"},
}
_DITHER_SEED = 16
_WRITE = 16_384  # frames at a time: the Vorbis encoder keeps large writes on its stack


def encode(
    blocks: Iterable[Sound], kind: str, *, sample_rate: int, tags: Mapping[str, str]
) -> bytes:
    """The file's bytes; `kind` is one of `FORMATS`."""
    import soundfile

    container, subtype = _KINDS[kind]
    buffer = io.BytesIO()
    with soundfile.SoundFile(
        buffer, "w", sample_rate, 2, subtype, format=container, **_LEVELS.get(kind, {})
    ) as file:
        for name, text in _strings(tags).items():
            setattr(file, name, text)
        for block in dithered(blocks) if subtype == "PCM_16" else blocks:
            for start in range(0, len(block), _WRITE):
                file.write(block[start : start + _WRITE])
    data = buffer.getvalue()
    return with_serial(data, 1) if kind == "ogg" else data


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


def _strings(tags: Mapping[str, str]) -> dict[str, str]:
    """What libsndfile can store: the title, and all else in a comment."""
    clean = {name: _one_line(text) for name, text in tags.items()}
    strings = {"title": clean.pop("title", ""), "comment": "; ".join(map(": ".join, clean.items()))}
    return {name: text for name, text in strings.items() if text}


def _one_line(text: str) -> str:
    """Tags are data from a file: no control signs, no more than 200 characters."""
    return "".join(sign if sign.isprintable() else " " for sign in text).strip()[:200]
