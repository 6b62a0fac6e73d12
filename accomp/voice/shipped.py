"""Fonts that come along, so that nobody waits for the first build of what most people play.

A font is nearly all samples of sixteen bits, most of them decaying: as one long sound in a lossless
coding it takes a fifth of its size, and comes out again byte for byte what was built. So a packed
font is a FLAC stream of the words of the whole file.

Conventions: a packed font is named after what it was made from, as fonts in the cache are; one that
was made from something else is not found, and the font is built.
"""

from __future__ import annotations

import io
import struct

import numpy as np

from accomp.files.data import DataKind, folders

KIND: DataKind = "soundfonts"
_RATE_HZ = 44100  # a stream must have one


def shipped(name: str, fingerprint: str) -> bytes | None:
    """The font of that name made from what has that fingerprint; None when it does not come along
    whole."""
    for folder in folders(KIND):
        try:
            return unpacked((folder / packed_name(name, fingerprint)).read_bytes())
        except (OSError, ValueError):
            continue
    return None


def packed_name(name: str, fingerprint: str) -> str:
    """The name of a packed font's file."""
    return f"{name}-{fingerprint}.flac"


def packed(font: bytes) -> bytes:
    """A font in the small form."""
    import soundfile

    stream = io.BytesIO()
    words = np.frombuffer(font, "<i2")  # a font's chunks are padded to whole words
    form = {"format": "FLAC", "subtype": "PCM_16", "compression_level": 1.0}
    soundfile.write(stream, words, _RATE_HZ, **form)
    return stream.getvalue()


def unpacked(stream: bytes) -> bytes:
    """The font in a packed one. Raises `ValueError` when it is damaged, `OSError` when the library
    that reads it is not there."""
    import soundfile

    try:
        words, _ = soundfile.read(io.BytesIO(stream), dtype="int16")
    except soundfile.LibsndfileError as error:
        raise ValueError(f"a packed font cannot be read: {error}") from error
    font = bytes(words.astype("<i2").data)
    if font[:4] != b"RIFF" or struct.unpack_from("<I", font, 4)[0] + 8 != len(font):
        raise ValueError("a packed font is not whole")
    return font
