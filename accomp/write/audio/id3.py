"""The tag at the head of an MP3 file.

Conventions: ID3v2.3.0 (id3.org, 1999): frames TIT2, TKEY (three signs at most), TBPM (a whole
number), COMM, TXXX; chapters after the "ID3v2 Chapter Frame Addendum" (2005): CTOC and CHAP. Text
is UTF-16 with a byte order mark.
"""

from __future__ import annotations

import struct

from accomp.write.audio.tags import Chapter, Tags

_UTF_16 = b"\x01"
_ORDERED_TOP = b"\x03"  # flags of a table of contents
_NO_OFFSET = 0xFFFFFFFF
_FRAMES = {"key": "TKEY", "tempo": "TBPM"}


def id3_tag(tags: Tags) -> bytes:
    """The whole tag, to stand before the first frame of sound; empty without anything to say."""
    frames = [_text("TIT2", tags.title)] if tags.title else []
    for name, text in tags.others:
        kind = _FRAMES.get(name)
        if kind is None:
            frames.append(_frame("TXXX", _UTF_16 + _utf_16(name) + _utf_16(text)))
        elif len(text) <= 3 and (kind != "TBPM" or text.isdecimal()):
            frames.append(_text(kind, text))
    if tags.comment:
        frames.append(_frame("COMM", _UTF_16 + b"eng" + _utf_16("") + _utf_16(tags.comment)))
    if tags.chapters:
        frames += _chapters(tags.chapters)
    body = b"".join(frames)
    if not body:
        return b""
    size = bytes(len(body) >> shift & 0x7F for shift in (21, 14, 7, 0))  # 7 bits a byte
    return b"ID3\x03\x00\x00" + size + body


def _chapters(chapters: tuple[Chapter, ...]) -> list[bytes]:
    names = [f"c{number:03d}".encode() + b"\0" for number in range(1, len(chapters) + 1)]
    contents = b"toc\0" + _ORDERED_TOP + bytes([len(names)]) + b"".join(names)
    frames = [_frame("CTOC", contents)]
    for name, chapter in zip(names, chapters, strict=True):
        times = (round(chapter.start_s * 1000), round(chapter.end_s * 1000))
        place = struct.pack(">IIII", *times, _NO_OFFSET, _NO_OFFSET)
        frames.append(_frame("CHAP", name + place + _text("TIT2", chapter.name)))
    return frames


def _text(kind: str, text: str) -> bytes:
    return _frame(kind, _UTF_16 + _utf_16(text))


def _frame(kind: str, body: bytes) -> bytes:
    return kind.encode() + struct.pack(">IH", len(body), 0) + body


def _utf_16(text: str) -> bytes:
    return b"\xff\xfe" + text.encode("utf-16-le") + b"\0\0"
