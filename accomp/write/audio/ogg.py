"""An Ogg Vorbis file with our tags and a fixed serial number.

Encoders draw the serial at random, which would make every file differ. Each page has a sequence
number and a checksum over itself, so both are worked out anew.

Conventions: pages after RFC 3533, section 6: "OggS", version, type, granule (8 bytes), serial (4),
sequence (4), checksum (4), number of segments, their lengths, data; little-endian. A packet is made
of segments of 255 bytes and a shorter one that ends it. The checksum is CRC-32 with polynomial
0x04C11DB7, not reflected, beginning with 0 and ending without a flip. Vorbis: the first page holds
the first header alone, the next ones comments and set-up, and sound begins on a page of its own.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, replace

from accomp.write.audio.tags import Tags, vorbis_comments

_PAGE = struct.Struct("<4sBBqIIIB")
_CHECKSUM = 22  # place in the page
_FULL = 255  # bytes of a segment, and segments of a page
_CONTINUED = 1  # type of a page that begins inside a packet
_NO_END = -1  # granule of a page in which no packet ends
_COMMENTS = b"\x03vorbis"
_SERIAL = 1
_REVERSED = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))


@dataclass(frozen=True, slots=True)
class _Page:
    kind: int
    granule: int
    segments: bytes  # their lengths
    body: bytes

    def packed(self, serial: int, number: int) -> bytes:
        head = _PAGE.pack(
            b"OggS", 0, self.kind, self.granule, serial, number, 0, len(self.segments)
        )
        page = bytearray(head + self.segments + self.body)
        struct.pack_into("<I", page, _CHECKSUM, checksum(bytes(page)))
        return bytes(page)


def ogg_with_tags(data: bytes, tags: Tags) -> bytes:
    """The same sound with our serial number and these tags in place of its own. Raises
    `ValueError` when the data are no Ogg Vorbis file as encoders write it."""
    first, *pages = _pages(data)
    packets: list[bytes] = [b""]
    while len(packets) < 3:  # comments, set-up, and what comes after them: nothing on these pages
        page = pages.pop(0)
        at = 0
        for length in page.segments:
            packets[-1] += page.body[at : at + length]
            at += length
            if length < _FULL:
                packets.append(b"")
    comments, setup, rest = packets
    if not comments.startswith(_COMMENTS) or rest:
        raise ValueError("not an Ogg Vorbis file as encoders write it")
    headers = _paged([_COMMENTS + vorbis_comments(tags) + b"\x01", setup])
    return b"".join(
        page.packed(_SERIAL, number) for number, page in enumerate([first, *headers, *pages])
    )


def checksum(data: bytes) -> int:
    """Ogg's CRC, worked out by zlib's, which has the same polynomial with all bits reversed."""
    crc = zlib.crc32(data.translate(_REVERSED), 0xFFFFFFFF) ^ 0xFFFFFFFF
    return int(f"{crc:032b}"[::-1], 2)


def _pages(data: bytes) -> Iterator[_Page]:
    at = 0
    while at < len(data):
        if data[at : at + 4] != b"OggS":
            raise ValueError(f"no Ogg page at byte {at}")
        _, _, kind, granule, _, _, _, count = _PAGE.unpack_from(data, at)
        body = at + _PAGE.size + count
        segments = data[at + _PAGE.size : body]
        end = body + sum(segments)
        yield _Page(kind, granule, segments, data[body:end])
        at = end


def _paged(packets: list[bytes]) -> list[_Page]:
    """Header packets laid out on pages; the last page ends with the last packet."""
    lengths = b"".join(
        bytes([_FULL] * (len(packet) // _FULL)) + bytes([len(packet) % _FULL]) for packet in packets
    )
    body = b"".join(packets)
    pages = []
    kind = at = 0
    for start in range(0, len(lengths), _FULL):
        segments = lengths[start : start + _FULL]
        size = sum(segments)
        page = _Page(kind, 0, segments, body[at : at + size])
        if min(segments) == _FULL:
            page = replace(page, granule=_NO_END)
        pages.append(page)
        kind = _CONTINUED if segments[-1] == _FULL else 0
        at += size
    return pages
