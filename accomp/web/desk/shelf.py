"""The shelf: the tune files of one folder, by name.

Conventions: a name is a file name without ".toml", and only names of files in the folder are ever
opened. Hidden files and books are not on the shelf, other files that are neither tune nor style are
not listed. A file that cannot be read is listed as a tune, so that its mistake can be shown.
`sha256` is of the file's bytes, texts have `\\n` line ends.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from accomp.errors import InputError, Problem, reason
from accomp.files.kinds import BOOK_FILE, Kind, kind_of
from accomp.files.plain import open_plain
from accomp.files.toml import ENDING, MOST_BYTES, read_toml
from accomp.files.values import short
from accomp.job.manifest import NAME as MANIFEST
from accomp.job.manifest import known_files, read_manifest

BOOK = Path(BOOK_FILE).stem
_MOST = 1e6  # larger numbers are no tempo
_HEAD = ("title", "composer", "key", "meter", "tempo", "style", "instrument")


class NoSuchTuneError(InputError):
    """Nothing of that name is on the shelf."""


@dataclass(frozen=True, slots=True)
class FileText:
    """The text of a file, the SHA-256 of its bytes, and whether its lines end with CR LF."""

    text: str
    sha256: str
    crlf: bool = False

    def encoded(self, text: str) -> bytes:
        """Another text with this file's line ends."""
        plain = text.replace("\r\n", "\n")
        return (plain.replace("\n", "\r\n") if self.crlf else plain).encode()


@dataclass(frozen=True, slots=True)
class ShelfEntry:
    """A file that was read: its kind and its head, which are valid while its `state`, time of
    change (ns) and size, stays the same."""

    state: tuple[int, int]
    kind: Kind | None
    head: Mapping[str, str | float]
    wrong: str = ""


class Shelf:
    """The files of one folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._known: dict[str, ShelfEntry] = {}

    def rows(self) -> list[dict[str, Any]]:
        """The tunes with the values of their heads, by title."""
        found = []
        for name, path in self._files().items():
            entry = self._entry(name, path)
            if entry.kind != "tune":
                continue
            made = read_manifest(self.folder / name)
            found.append(
                {
                    "name": name,
                    **{key: entry.head.get(key, "") for key in _HEAD},
                    "title": entry.head.get("title") or name,
                    "changed": _when(entry.state),
                    "made": sorted({file.kind for file in made.files}) if made else [],
                    "made_when": _when(_state(self.folder / name / MANIFEST)) if made else "",
                    "wrong": entry.wrong,
                }
            )
        return sorted(found, key=lambda row: (str(row["title"]).casefold(), row["name"]))

    def styles(self) -> list[dict[str, Any]]:
        """The style files of the folder, by name."""
        rows = [(name, self._entry(name, path)) for name, path in self._files().items()]
        return [
            {"name": name, **{key: entry.head.get(key, "") for key in ("title", "meter")}}
            for name, entry in rows
            if entry.kind == "style"
        ]

    def kind(self, name: str) -> Kind | None:
        """The kind of a file. Raises `NoSuchTuneError`."""
        return self._entry(name, self.path(name)).kind

    def state(self) -> dict[str, tuple[int, int]]:
        """The time of change (ns) and size of each file, by which a change is noticed."""
        return {name: _state(path) for name, path in self._files().items()}

    def path(self, name: str) -> Path:
        """The file of a name. Raises `NoSuchTuneError`."""
        files = self._files()
        if name not in files:
            message = f"{name!r} is not on the shelf."
            raise NoSuchTuneError(Problem(message, found=name, hint="It may have been renamed."))
        return files[name]

    def read(self, name: str) -> FileText:
        """The text of a file. Raises `InputError`."""
        return read_file_text(self.path(name))

    def made(self, name: str) -> list[dict[str, Any]]:
        """The files made of a tune that still lie in its folder, as the manifest lists them; of
        the whole shelf by the name `BOOK`, which no tune has."""
        if name != BOOK:
            self.path(name)
        folder = self.folder / name
        manifest = read_manifest(folder)
        if manifest is None:
            return []
        told = {file.path: file for file in manifest.files}
        rows = []
        for file, _ in known_files(manifest).items():
            if Path(file).name != file or not (folder / file).is_file():
                continue
            one = told.get(file)
            rows.append(
                {
                    "file": file,
                    "kind": one.kind if one else "",
                    "role": one.role if one else "",
                    "position": one.position if one else "",
                    "bytes": (folder / file).stat().st_size,
                    "newest": one is not None,
                }
            )
        return sorted(rows, key=lambda row: (not row["newest"], row["file"]))

    def made_path(self, name: str, file: str) -> Path:
        """The path of a file that the manifest of a tune lists. Raises `NoSuchTuneError`."""
        if file not in {row["file"] for row in self.made(name)}:
            raise NoSuchTuneError(Problem(f"{file!r} has not been made.", found=file))
        return self.folder / name / file

    def _files(self) -> dict[str, Path]:
        try:
            entries = list(os.scandir(self.folder))
        except OSError as error:
            message = f"this folder cannot be read ({reason(error)})."
            raise InputError(Problem(message, str(self.folder))) from error
        files: dict[str, Path] = {}
        for entry in sorted(entries, key=lambda entry: entry.name):
            if (
                entry.name.endswith(ENDING)
                and not entry.name.startswith(".")
                and entry.name != BOOK_FILE
                and entry.is_file()
            ):
                # Bytes of a name that are not UTF-8 are shown as replacement signs.
                name = os.fsencode(entry.name.removesuffix(ENDING)).decode(errors="replace")
                while name in files:
                    name += "\ufffd"
                files[name] = self.folder / entry.name
        return files

    def _entry(self, name: str, path: Path) -> ShelfEntry:
        state = _state(path)
        known = self._known.get(name)
        if known is None or known.state != state:
            known = self._known[name] = _entry_of(path, state)
        return known


def read_file_text(path: Path) -> FileText:
    """The text of a file. Raises `InputError` where it cannot be read, is too large or no UTF-8."""
    try:
        with open_plain(path) as stream:
            data = stream.read(MOST_BYTES + 1)
        if len(data) > MOST_BYTES:
            raise InputError(Problem("this file is too large.", str(path)))
        text = data.decode("utf-8-sig")
    except OSError as error:
        message = f"this file cannot be read ({reason(error)})."
        raise InputError(Problem(message, str(path))) from error
    except UnicodeDecodeError:
        message = "this file is not written in UTF-8."
        raise InputError(Problem(message, str(path), hint="Save it as UTF-8.")) from None
    crlf = "\r\n" in text
    return FileText(text.replace("\r\n", "\n"), hashlib.sha256(data).hexdigest(), crlf)


def _state(path: Path) -> tuple[int, int]:
    try:
        state = os.stat(path)
    except OSError:
        return 0, 0
    return state.st_mtime_ns, state.st_size


def _when(state: tuple[int, int]) -> str:
    return datetime.fromtimestamp(state[0] / 1e9, UTC).isoformat()


def _shown(value: str | float) -> str | float:
    """A value of a head for a row: a number that makes no sense is shown as a text."""
    if isinstance(value, str) or (not isinstance(value, bool) and abs(value) < _MOST):
        return value
    return short(value)


def _entry_of(path: Path, state: tuple[int, int]) -> ShelfEntry:
    try:
        document = read_toml(path)
    except InputError as error:
        return ShelfEntry(state, "tune", {}, error.problems[0].message)
    data = document.data
    head = {key: _shown(data[key]) for key in _HEAD if isinstance(data.get(key), str | int | float)}
    return ShelfEntry(state, kind_of(document), head)
