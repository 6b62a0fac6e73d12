"""Safe reading of files from unknown sources: bytes, text, XML and packed MusicXML.

Conventions: XML is parsed without entities, document types or network. An archive is opened member
by member, with limits on the unpacked size. Text is UTF-8, or else Latin-1 (older ABC). Sizes are
in bytes.
"""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from pathlib import Path

from lxml import etree

from accomp.errors import InputError, Problem
from accomp.files.plain import STDIN, open_plain

MOST_TEXT = 2_000_000  # an ABC book of two thousand tunes
MOST_XML = 40_000_000
MOST_TAGS = 1_000_000  # a full score of some hundred bars for a large band
MOST_ARCHIVE = 20_000_000
_MOST_CONTAINER = 100_000
_MOST_MEMBERS = 1000
_CONTAINER = "META-INF/container.xml"
_DIRECTORY_ENTRY = b"PK\x01\x02"  # once in an archive for each member
# MusicXML 4.0 asks for deflate. Other methods can make gigabytes from a few bytes.
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
# Errors that a damaged archive in memory can raise: `OSError` or `ValueError` for a wrong offset,
# `RuntimeError` for an encrypted member.
_DAMAGE = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    KeyError,
    NotImplementedError,
    OSError,
    OverflowError,
    RuntimeError,
    ValueError,
)


def line_of(element: etree._Element) -> int:
    """The line on which an element begins, 0 when unknown."""
    return element.sourceline or 0


def read_bytes(path: Path, most: int) -> bytes:
    """The file's content. Raises `InputError`, also when it holds more than `most` bytes."""
    try:
        if path != STDIN and path.is_dir():
            raise _wrong(
                path, "this is a folder.", "a folder", "a lead sheet", "Name a file in it."
            )
        if (
            path != STDIN and path.exists() and not path.is_file()
        ):  # a pipe would be waited for without end
            raise _wrong(
                path,
                "this is no plain file.",
                "a pipe or a device",
                "a lead sheet",
                "Save it as a file first.",
            )
        with open_plain(path) as file:
            data = file.read(most + 1)
    except FileNotFoundError:
        raise _wrong(
            path,
            "there is no such file.",
            "nothing",
            "a lead sheet",
            "Look at its name and folder.",
        ) from None
    except PermissionError:
        raise _wrong(
            path, "it may not be read.", "no permission", "a file you may read", "Ask its owner."
        ) from None
    except (OSError, ValueError) as error:
        raise _wrong(
            path, f"it cannot be read: {error}.", "an error", "a lead sheet", "Copy it anew."
        ) from None
    if len(data) > most:
        raise _too_large(path, most)
    if not data.strip():
        raise _wrong(path, "it is empty.", "nothing", "a lead sheet", "Copy it anew.")
    return data


def read_text(path: Path) -> str:
    """The text of an ABC file. Raises `InputError`."""
    data = read_bytes(path, MOST_TEXT)
    if b"\0" in data:
        raise _wrong(path, "this is not text.", "zero bytes", "ABC text", "Is this the right file?")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def read_xml(path: Path) -> etree._Element:
    """The root of a MusicXML file, packed or not. Raises `InputError`."""
    data = read_bytes(path, MOST_XML)
    if data.startswith(b"PK"):
        data = _unpacked(data, path)
    root = parse_xml(data, path)
    if root.tag not in ("score-partwise", "score-timewise"):
        raise _wrong(
            path,
            f"this is XML and not MusicXML: it begins with <{_short(str(root.tag))}>.",
            f"<{_short(str(root.tag))}>",
            "<score-partwise> or <score-timewise>",
            "Is this the right file?",
            at=(line_of(root), 0),
        )
    return root


def parse_xml(data: bytes, path: Path) -> etree._Element:
    """XML without entities, document types or network. Raises `InputError`."""
    # Each element and attribute costs memory, however short it is in the file.
    count = max(data.count(b"<"), data.count(b"="))
    if count > MOST_TAGS:
        raise _wrong(
            path,
            f"it has more than {MOST_TAGS:,} tags or attributes, too many for a lead sheet.",
            f"{count:,} tags or attributes",
            f"at most {MOST_TAGS:,}",
            "Export only the part with the chord symbols.",
        )
    parser = etree.XMLParser(
        resolve_entities=False,
        load_dtd=False,
        no_network=True,
        huge_tree=False,
        remove_comments=True,
        remove_pis=True,
    )
    try:
        root = etree.fromstring(data, parser)
    except etree.XMLSyntaxError as error:
        line, column = error.position
        raise _wrong(
            path,
            f"this is not well-formed XML: {_short(str(error.msg))}.",
            _short(str(error.msg)),
            "well-formed MusicXML",
            "Export it again from the program it comes from.",
            at=(line, max(column, 1)),
        ) from None
    dtd = root.getroottree().docinfo.internalDTD
    if (dtd is not None and next(dtd.iterentities(), None) is not None) or any(
        isinstance(node, etree._Entity) for node in root.iter(etree.Entity)
    ):
        raise _wrong(
            path,
            "it defines or uses entities of its own, which a lead sheet does not need and which "
            "can do harm.",
            "entities",
            "MusicXML without entities",
            "Export it again from the program it comes from.",
        )
    return root


def _unpacked(data: bytes, path: Path) -> bytes:
    """The score inside a packed file (.mxl)."""
    if len(data) > MOST_ARCHIVE:
        raise _too_large(path, MOST_ARCHIVE)
    if data.count(_DIRECTORY_ENTRY) > _MOST_MEMBERS:
        raise _wrong(
            path,
            f"it holds more than {_MOST_MEMBERS} files.",
            f"more than {_MOST_MEMBERS} files",
            "one score",
            "Is this the right file?",
        )
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return _member(archive, _score_name(archive, path), MOST_XML, path)
    except _DAMAGE as error:
        raise _wrong(
            path,
            f"it is a damaged archive: {_short(str(error)) or type(error).__name__}.",
            "a damaged archive",
            "a whole .mxl file",
            "Copy or export it again.",
        ) from None


def _score_name(archive: zipfile.ZipFile, path: Path) -> str:
    """The member that is the score: the first root file in the container, else the first XML."""
    names = archive.namelist()
    if _CONTAINER in names:
        container = parse_xml(_member(archive, _CONTAINER, _MOST_CONTAINER, path), path)
        for element in container.iter("{*}rootfile"):
            name = str(element.get("full-path", ""))
            kind = str(element.get("media-type", ""))
            if name in names and ("xml" in kind or not kind):
                return name
    scores = [
        name
        for name in names
        if name.lower().endswith((".musicxml", ".xml")) and not name.startswith("META-INF/")
    ]
    if not scores:
        raise _wrong(
            path,
            "no score is in this archive.",
            _short(", ".join(names)),
            "a .musicxml or .xml file in it",
            "Is this the right file?",
        )
    return scores[0]


def _member(archive: zipfile.ZipFile, name: str, most: int, path: Path) -> bytes:
    """A member's bytes, counted while they are unpacked, since an archive may lie about sizes."""
    method = archive.getinfo(name).compress_type
    if method not in _METHODS:
        raise _wrong(
            path,
            f"{_short(name)!r} in it is packed by method {method}, and not deflated.",
            f"method {method} of compression",
            "a member that is stored or deflated",
            "Export it again from the program it comes from.",
        )
    with archive.open(name) as member:
        data = member.read(most + 1)
    if len(data) > most:
        raise _wrong(
            path,
            f"it unpacks to more than {most:,} bytes.",
            f"more than {most:,} bytes",
            f"at most {most:,} bytes",
            "Is this the right file?",
        )
    return data


def _too_large(path: Path, most: int) -> InputError:
    return _wrong(
        path,
        f"it holds more than {most:,} bytes, too many for a lead sheet.",
        f"more than {most:,} bytes",
        f"at most {most:,} bytes",
        "Is this the right file?",
    )


def _short(text: str) -> str:
    line = re.sub(r"[^\x20-\x7e\xa0-\U0010ffff]+", " ", text).strip()
    return line if len(line) <= 60 else f"{line[:57]}..."


def _wrong(
    path: Path,
    message: str,
    found: str,
    expected: str,
    hint: str,
    at: tuple[int, int] = (0, 0),
) -> InputError:
    """The error of a file, `at` a line and column (0 when unknown)."""
    return InputError(Problem(message, str(path), *at, found, expected, hint))
