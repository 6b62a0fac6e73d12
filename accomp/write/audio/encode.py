"""Sound into a file's bytes: FLAC, WAV, OGG (Vorbis) or MP3.

Conventions: FLAC and WAV are 16 bit with triangular dither of ±1 step, added once and from a fixed
seed, so that equal sound gives equal bytes; the lossy formats get float sound.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

from accomp.write.audio.bus import READ
from accomp.write.audio.libsndfile import read, sound_file
from accomp.write.audio.ogg import ogg_with_tags
from accomp.write.audio.spool import Samples
from accomp.write.audio.tags import NO_TAGS, Tags, flac_with_tags, id3_tag, wav_with_cues
from accomp.write.formats import AudioFormat

_KINDS: Mapping[AudioFormat, tuple[str, str]] = {
    "flac": ("FLAC", "PCM_16"),
    "wav": ("WAV", "PCM_16"),
    "ogg": ("OGG", "VORBIS"),
    "mp3": ("MP3", "MPEG_LAYER_III"),
}
# libsndfile: 0 is the best and largest. Vorbis quality is 1 - level; MP3 comes out at 224 kbit/s.
_LEVELS: dict[AudioFormat, dict[str, Any]] = {
    "ogg": {"compression_level": 0.4},
    "mp3": {"compression_level": 0.35, "bitrate_mode": "CONSTANT"},
}
_DITHER_SEED = 16
_DRAWN_MOST = 32  # blocks of noise that are kept: 47 s, 17 MB


def encode(
    blocks: Iterable[Samples], kind: AudioFormat, *, sample_rate: int, tags: Tags = NO_TAGS
) -> bytes:
    """The file's bytes."""
    form = _KINDS[kind]
    # The other formats get their tags below, since libsndfile cannot write all of them.
    texts = (("title", tags.title), ("comment", tags.comment)) if kind == "wav" else ()
    data = sound_file(
        dithered(blocks) if form[1] == "PCM_16" else blocks,
        form,
        rate_hz=sample_rate,
        texts=texts,
        **_LEVELS.get(kind, {}),
    )
    if kind == "flac":
        return flac_with_tags(data, tags)
    if kind == "ogg":
        return ogg_with_tags(data, tags)
    if kind == "mp3":
        return id3_tag(tags) + data
    return wav_with_cues(data, tags.chapters, sample_rate)


def decoded(data: bytes) -> Iterator[Samples]:
    """The sound of an encoded file, block by block."""
    return read(data)


def dithered(blocks: Iterable[Samples]) -> Iterator[npt.NDArray[np.int16]]:
    """16-bit sound; the noise of ±1 step hides the rounding of quiet tails."""
    for block, noise in _with_noise(blocks):
        steps = np.ascontiguousarray(block) * np.float32(32_768)
        steps += noise
        np.rint(steps, out=steps)
        np.clip(steps, -32_768, 32_767, out=steps)
        yield steps.astype(np.int16)


# Every file has the same noise, so the noise of whole blocks is kept for the next file, each with
# the state of the generator after it.
_DRAWN: dict[int, tuple[Samples, Mapping[str, Any]]] = {}


def _with_noise(blocks: Iterable[Samples]) -> Iterator[tuple[Samples, Samples]]:
    random = np.random.default_rng(_DITHER_SEED)
    whole = True
    for place, block in enumerate(blocks):
        whole = whole and len(block) == READ
        known = _DRAWN.get(place) if whole else None
        if known is None:
            noise = random.random(block.shape, np.float32)
            noise -= random.random(block.shape, np.float32)
            if whole and place < _DRAWN_MOST:
                _DRAWN[place] = noise, random.bit_generator.state
        else:
            noise, random.bit_generator.state = known
        yield block, noise
