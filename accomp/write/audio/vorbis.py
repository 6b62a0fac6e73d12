"""Vorbis comments: the tags of FLAC and Ogg files, and how they get into a FLAC file.

Conventions: layout after the Vorbis I specification, section 5.2.1 (lengths of 4 bytes,
little-endian, UTF-8), in FLAC as metadata block 4 (RFC 9639, section 8.6) without the framing bit.
Chapters as CHAPTER001=00:00:00.000 and CHAPTER001NAME=..., the convention of Xiph's wiki ("Chapter
Extension"), which common players read.
"""

from __future__ import annotations

import struct

from accomp.write.audio.tags import Tags

_VENDOR = "accomp"
_COMMENTS = 4  # type of the metadata block
_LAST = 0x80


def vorbis_comments(tags: Tags) -> bytes:
    """The comment structure: vendor, then NAME=text."""
    fields = [("TITLE", tags.title)]
    fields += [(name.upper(), text) for name, text in tags.others]
    fields.append(("COMMENT", tags.comment))
    for number, chapter in enumerate(tags.chapters, 1):
        fields.append((f"CHAPTER{number:03d}", _clock(chapter.start_s)))
        fields.append((f"CHAPTER{number:03d}NAME", chapter.name))
    rows = [f"{name}={text}".encode() for name, text in fields if text]
    vendor = _VENDOR.encode()
    return b"".join(
        [
            struct.pack("<I", len(vendor)) + vendor,
            struct.pack("<I", len(rows)),
            *(struct.pack("<I", len(row)) + row for row in rows),
        ]
    )


def flac_with_tags(data: bytes, tags: Tags) -> bytes:
    """A FLAC file with these tags instead of those it has."""
    blocks: list[tuple[int, bytes]] = []
    at, last = 4, False
    while not last:
        kind, length = data[at] & ~_LAST, int.from_bytes(data[at + 1 : at + 4], "big")
        last = bool(data[at] & _LAST)
        if kind != _COMMENTS:
            blocks.append((kind, data[at + 4 : at + 4 + length]))
        at += 4 + length
    blocks.insert(1, (_COMMENTS, vorbis_comments(tags)))  # the stream's own block stays first
    written = [data[:4]]
    for number, (kind, body) in enumerate(blocks, 1):
        flag = _LAST if number == len(blocks) else 0
        written += [bytes([kind | flag]), len(body).to_bytes(3, "big"), body]
    return b"".join([*written, data[at:]])


def _clock(time_s: float) -> str:
    minutes, milliseconds = divmod(round(time_s * 1000), 60_000)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02d}:{minutes:02d}:{milliseconds // 1000:02d}.{milliseconds % 1000:03d}"
