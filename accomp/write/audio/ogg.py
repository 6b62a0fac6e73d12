"""An Ogg file with the serial number that we give it.

Encoders draw the serial at random, which would make every file differ. Each page carries a checksum
over itself, so it is worked out anew.

Conventions: pages after RFC 3533, section 6: "OggS", version, type, granule (8 bytes), serial (4),
sequence (4), checksum (4), number of segments, their lengths, data; little-endian. The checksum is
CRC-32 with polynomial 0x04C11DB7, not reflected, beginning with 0 and ending without a flip.
"""

from __future__ import annotations

import struct
import zlib

_HEAD = 27
_SERIAL, _CHECKSUM = 14, 22
_REVERSED = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))


def with_serial(data: bytes, serial: int) -> bytes:
    """The same Ogg file with every page under `serial`."""
    file = bytearray(data)
    at = 0
    while at < len(file):
        if file[at : at + 4] != b"OggS":
            raise ValueError(f"no Ogg page at byte {at}")
        segments = file[at + _HEAD - 1]
        body = at + _HEAD + segments
        end = body + sum(file[at + _HEAD : body])
        struct.pack_into("<I", file, at + _SERIAL, serial)
        struct.pack_into("<I", file, at + _CHECKSUM, 0)
        struct.pack_into("<I", file, at + _CHECKSUM, checksum(bytes(file[at:end])))
        at = end
    return bytes(file)


def checksum(data: bytes) -> int:
    """Ogg's CRC by zlib's: the same polynomial with all bits the other way round."""
    crc = zlib.crc32(data.translate(_REVERSED), 0xFFFFFFFF) ^ 0xFFFFFFFF
    return int(f"{crc:032b}"[::-1], 2)
