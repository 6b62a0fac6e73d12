"""Fonts that the program ships, so that nobody waits for a build of the most common ones.

A font is nearly all 16-bit samples, most of them decaying sounds. As one long sound in a lossless
coding it takes a fifth of its size, and decodes to the same bytes. So a packed font is a FLAC
stream of the 16-bit words of the whole file.

Conventions: a packed font's name contains a fingerprint of the code and parameters that made it, as
in the cache. If these have changed, the file is not found by its name, and the font is built.
"""

from __future__ import annotations

import io
import struct

import numpy as np

from accomp.files.data import DataKind, folders

KIND: DataKind = "soundfonts"
_RATE_HZ = 44100  # FLAC needs a rate; it has no meaning here


def shipped(name: str, fingerprint: str) -> bytes | None:
    """The bytes of the shipped font of that name and fingerprint; None when it cannot be read."""
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
    """A font's bytes as a FLAC stream."""
    import soundfile

    stream = io.BytesIO()
    words = np.frombuffer(font, "<i2")  # a font's chunks are padded to whole words
    form = {"format": "FLAC", "subtype": "PCM_16", "compression_level": 1.0}
    soundfile.write(stream, words, _RATE_HZ, **form)
    return stream.getvalue()


def unpacked(stream: bytes) -> bytes:
    """The font's bytes from its FLAC stream. Raises `ValueError` when the stream is damaged,
    `OSError` when the library that decodes it is missing.
    """
    import soundfile

    try:
        words, _ = soundfile.read(io.BytesIO(stream), dtype="int16")
    except soundfile.LibsndfileError as error:
        raise ValueError(f"a packed font cannot be read: {error}") from error
    font = bytes(words.astype("<i2").data)
    if font[:4] != b"RIFF" or struct.unpack_from("<I", font, 4)[0] + 8 != len(font):
        raise ValueError("a packed font is not whole")
    return font
