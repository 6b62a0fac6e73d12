"""RIFF chunks: the container of SoundFont and WAVE files.

Conventions: numbers are little-endian. A chunk is a name of four letters, the 32-bit length of its
body, the body, and one zero byte when the length is odd, which the length does not count (Microsoft
and IBM, "Multimedia Programming Interface and Data Specifications 1.0", 1991, chapter 2).
"""

from __future__ import annotations

import struct
from collections.abc import Iterable

LONGEST = 2**32 - 1


def chunk(name: str, body: bytes) -> bytes:
    """One chunk. Raises `ValueError` when the name is not four letters or the body too long."""
    if len(name) != 4 or not name.isascii():
        raise ValueError(f"a chunk name has four ASCII letters, not {name!r}")
    if len(body) > LONGEST:
        raise ValueError(f"chunk {name} has {len(body)} bytes; 32 bits count {LONGEST}")
    return name.encode("ascii") + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)


def group(kind: str, name: str, chunks: Iterable[bytes]) -> bytes:
    """A chunk of chunks: `kind` is "RIFF" (the whole file) or "LIST", `name` its form type."""
    return chunk(kind, name.encode("ascii") + b"".join(chunks))


def text(name: str, words: str) -> bytes:
    """A text chunk of at most 254 ASCII letters and one or two zero bytes, of even length."""
    raw = words.encode("ascii", "replace")[:254]
    return chunk(name, raw + b"\0" * (2 - len(raw) % 2))
