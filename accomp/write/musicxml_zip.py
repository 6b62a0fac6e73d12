"""Compressed MusicXML (.mxl): a zip with the score and a note that says where it is.

Conventions: times inside the zip are fixed (1 January 1980, the earliest that zip can say), so that
equal scores give equal bytes. Source: "Compressed .MXL files", MusicXML 4.0.
"""

from __future__ import annotations

import io
import zipfile

_CONTAINER = """<?xml version="1.0" encoding="UTF-8"?>
<container>
  <rootfiles>
    <rootfile full-path="score.musicxml" media-type="application/vnd.recordare.musicxml+xml"/>
  </rootfiles>
</container>
"""
_TYPE = b"application/vnd.recordare.musicxml"


def zipped(musicxml: bytes) -> bytes:
    """The bytes of a .mxl file that holds one score."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        # The type comes first and unpacked, so that it can be read without unzipping.
        _put(archive, "mimetype", _TYPE, zipfile.ZIP_STORED)
        _put(archive, "META-INF/container.xml", _CONTAINER.encode(), zipfile.ZIP_DEFLATED)
        _put(archive, "score.musicxml", musicxml, zipfile.ZIP_DEFLATED)
    return buffer.getvalue()


def _put(archive: zipfile.ZipFile, name: str, data: bytes, how: int) -> None:
    info = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
    info.compress_type = how
    info.external_attr = 0o644 << 16
    info.create_system = 3  # the same on every system
    archive.writestr(info, data)
