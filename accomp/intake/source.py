"""Other people's files made safe before anything reads them.

Conventions: a lead sheet may come from anywhere. XML is parsed without entities, document types or
network; an archive is opened member by member with limits on what it unpacks to; text is UTF-8,
or Latin-1 where it is not (older ABC). Sizes are in bytes.
"""

from __future__ import annotations

import re
import zipfile
import zlib
from pathlib import Path

from lxml import etree

from accomp.errors import InputError, Problem

MOST_TEXT = 4_000_000  # an ABC book of some thousand tunes
MOST_XML = 40_000_000
MOST_ARCHIVE = 20_000_000
_MOST_CONTAINER = 100_000
_MOST_MEMBERS = 1000
_CONTAINER = "META-INF/container.xml"


def read_bytes(path: Path, most: int) -> bytes:
    """The file's content. Raises `InputError`, also when it holds more than `most` bytes."""
    try:
        if path.is_dir():
            raise _wrong(
                path, "this is a folder.", "a folder", "a lead sheet", "Name a file in it."
            )
        with path.open("rb") as file:
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
        raise _wrong(
            path,
            f"it holds more than {most:,} bytes, too many for a lead sheet.",
            f"more than {most:,} bytes",
            f"at most {most:,} bytes",
            "Is this the right file?",
        )
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
        data = _unpacked(path)
    root = parse_xml(data, path)
    if root.tag not in ("score-partwise", "score-timewise"):
        raise _wrong(
            path,
            f"this is XML and not MusicXML: it begins with <{_short(str(root.tag))}>.",
            f"<{_short(str(root.tag))}>",
            "<score-partwise> or <score-timewise>",
            "Is this the right file?",
            line=root.sourceline or 0,
        )
    return root


def parse_xml(data: bytes, path: Path) -> etree._Element:
    """XML without entities, document types or network. Raises `InputError`."""
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
            f"this is not well-formed XML: {error.msg}.",
            _short(str(error.msg)),
            "well-formed MusicXML",
            "Export it again from the program it comes from.",
            line=line,
            column=max(column, 1),
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


def _unpacked(path: Path) -> bytes:
    """The score inside a packed file (.mxl)."""
    read_bytes(path, MOST_ARCHIVE)
    try:
        with zipfile.ZipFile(path) as archive:
            if len(archive.infolist()) > _MOST_MEMBERS:
                raise _wrong(
                    path,
                    f"it holds more than {_MOST_MEMBERS} files.",
                    f"{len(archive.infolist())} files",
                    "one score",
                    "Is this the right file?",
                )
            return _member(archive, _score_name(archive, path), MOST_XML, path)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        raise _wrong(
            path,
            f"it is a damaged archive: {_short(str(error))}.",
            "a damaged archive",
            "a whole .mxl file",
            "Copy or export it again.",
        ) from None


def _score_name(archive: zipfile.ZipFile, path: Path) -> str:
    """Which member is the score: the first root file that the container names."""
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
    """A member's bytes, counted while they are unpacked: no claim of the archive is believed."""
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


def _short(text: str) -> str:
    line = re.sub(r"[^\x20-\x7e\xa0-\U0010ffff]+", " ", text).strip()
    return line if len(line) <= 60 else f"{line[:57]}..."


def _wrong(
    path: Path,
    message: str,
    found: str,
    expected: str,
    hint: str,
    line: int = 0,
    column: int = 0,
) -> InputError:
    return InputError(Problem(message, str(path), line, column, found, expected, hint))
