"""Saving a tune: only where nobody else has changed it, with its earlier versions kept.

Conventions: `seen` is the SHA-256 of the file as the page that saves last saw it. Everything is
written aside and moved into place, the earlier version first, so that a kill in between loses
neither. The earlier versions lie in a hidden folder beside the tunes, numbered upward, at most
`DEEP` of each tune.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from accomp.errors import OutputError
from accomp.files.aside import Batch
from accomp.files.folders import output_errors
from accomp.files.kinds import BOOK_FILE
from accomp.files.lock import BusyError, locked
from accomp.files.toml import ENDING, MELODY_ENDING, MOST_BYTES
from accomp.web.desk.edit import edited
from accomp.web.desk.shelf import FileText, Shelf, read_file_text

HIDDEN = ".accomp-desk"
DEEP = 20
_WAIT_S = 5.0
_MOST_TRIES = 1000


class ChangedError(OutputError):
    """Somebody else has changed the file; `there` is the file now, None when it is gone."""

    def __init__(self, there: FileText | None) -> None:
        said = "has been changed" if there else "is gone"
        super().__init__(f"The file {said} since you last saw it. Nothing was written.")
        self.there = there


@dataclass(frozen=True)
class Saving:
    """Writes to the files of a shelf."""

    shelf: Shelf

    def save(self, name: str, text: str, seen: str, *, again: bool = False) -> FileText:
        """Write a tune. Raises `ChangedError` when the file is not as it was last seen.

        With `again` the file's present version is not kept: it is from the same page a moment ago.
        """
        _small_enough(text)
        path = self.shelf.path(name)
        with self._alone(name):
            there = read_file_text(path)
            data = there.encoded(text)
            sha = hashlib.sha256(data).hexdigest()
            if sha == there.sha256:  # the file has this text already, whoever wrote it
                return there
            if there.sha256 != seen:
                raise ChangedError(there)
            if not again:
                self._keep(name, there)
            with Batch(self.shelf.folder, known={path.name: {seen}}) as batch:
                with output_errors(self.shelf.folder):
                    batch.path(path.name).write_bytes(data)
                batch.commit()
        return FileText(text, sha, there.crlf)

    def new(self, title: str, text: str, melody: tuple[str, bytes] | None = None) -> str:
        """Write a new tune beside the others; returns its name.

        A `melody` (its name in the text, and its bytes) is written beside it. Raises `OutputError`.
        """
        from accomp.tune import slug  # late: the desk opens without knowing music

        _small_enough(text)
        plain = slug(title)
        for number in range(1, _MOST_TRIES):
            name = plain if number == 1 else f"{plain}-{number}"
            path = self.shelf.folder / f"{name}{ENDING}"
            beside = self.shelf.folder / f"{name}{MELODY_ENDING}"
            if path.name == BOOK_FILE or os.path.lexists(path) or os.path.lexists(beside):
                continue
            if melody is not None and melody[0] != beside.name:
                text = edited(text, ("melody",), beside.name)
            with Batch(self.shelf.folder) as batch:
                with output_errors(self.shelf.folder):
                    if melody is not None:
                        batch.path(beside.name).write_bytes(melody[1])
                    batch.path(path.name).write_text(text, encoding="utf-8", newline="\n")
                batch.commit()
            return name
        raise OutputError(f"There are too many tunes called {title!r} already.")

    def earlier(self, name: str) -> list[dict[str, Any]]:
        """The earlier versions, the newest first: number, and when it was replaced."""
        self.shelf.path(name)
        return [
            {
                "number": number,
                "replaced": datetime.fromtimestamp(path.stat().st_mtime, UTC).isoformat(),
            }
            for number, path in sorted(self._kept(name).items(), reverse=True)
        ]

    def earlier_text(self, name: str, number: int) -> str:
        """The text of an earlier version. Raises `OutputError` when it is not kept any more."""
        self.shelf.path(name)
        path = self._kept(name).get(number)
        if path is None:
            raise OutputError(f"Version {number} of {name!r} is not kept any more.")
        return read_file_text(path).text

    def _folder(self, name: str) -> Path:
        return self.shelf.folder / HIDDEN / name

    def _kept(self, name: str) -> dict[int, Path]:
        try:
            paths = list(self._folder(name).glob(f"*{ENDING}"))
        except OSError:
            return {}
        return {int(path.stem): path for path in paths if path.stem.isdecimal()}

    def _keep(self, name: str, there: FileText) -> None:
        """Keep a version, and delete the oldest where there are more than `DEEP`."""
        kept = self._kept(name)
        number = max(kept, default=0) + 1
        folder = self._folder(name)
        with Batch(folder) as batch:
            with output_errors(folder):
                batch.path(f"{number:06d}{ENDING}").write_bytes(there.encoded(there.text))
            batch.commit()
        for old in sorted(kept)[: max(0, len(kept) + 1 - DEEP)]:
            with contextlib.suppress(OSError):
                kept[old].unlink()

    @contextlib.contextmanager
    def _alone(self, name: str) -> Iterator[None]:
        """Hold the lock of a tune, so that no other desk or process saves it at the same time."""
        folder = self._folder(name)
        with output_errors(self.shelf.folder):
            folder.mkdir(parents=True, exist_ok=True)
        with contextlib.ExitStack() as stack:
            with output_errors(self.shelf.folder):
                try:
                    stack.enter_context(locked(folder / "lock", wait_s=_WAIT_S))
                except BusyError:
                    message = f"{name!r} is being saved by somebody else. Try again."
                    raise OutputError(message) from None
            yield


def _small_enough(text: str) -> None:
    if len(text.encode()) > MOST_BYTES:
        raise OutputError("This text is too large for a tune file. Nothing was written.")
