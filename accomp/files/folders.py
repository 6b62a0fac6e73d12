"""An output folder that is made when missing, and removed again when no file was made.

Conventions: only folders that were made here are removed, and only while they are empty.
"""

from __future__ import annotations

import contextlib
import tempfile
from collections.abc import Iterator
from pathlib import Path

from accomp.errors import OutputError, reason


@contextlib.contextmanager
def output_errors(where: Path) -> Iterator[None]:
    """Turn an `OSError` of writing into an `OutputError` that names the place `where`."""
    try:
        yield
    except OSError as error:
        raise OutputError(
            f"{where}: cannot write here ({reason(error)}). Nothing was changed; choose another "
            f"folder or make room.",
            helps=("folder",),
        ) from error


@contextlib.contextmanager
def working_here() -> Iterator[None]:
    """Turn an `OSError` about temporary files into an `OutputError` that names their folder."""
    try:
        place = Path(tempfile.gettempdir())
    except OSError as error:
        raise OutputError(
            "there is no folder for temporary files in which anything can be written. Name one "
            "by TMPDIR."
        ) from error
    with output_errors(place):
        yield


class OutputFolder:
    """One output folder, and the folders above it that had to be made for it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._made: list[Path] = []

    def make(self) -> None:
        """Make the missing folders. Raises `OutputError`; no new folder is then left behind."""
        try:
            with output_errors(self.folder):
                if self.folder.exists() and not self.folder.is_dir():
                    raise OutputError(
                        f"{self.folder}: this is a file, and a folder is needed here. "
                        f"Choose another place.",
                        helps=("folder",),
                    )
                missing = self.folder
                while not missing.exists() and missing.parent != missing:
                    self._made.append(missing)
                    missing = missing.parent
                self.folder.mkdir(parents=True, exist_ok=True)
        except BaseException:
            self.unmake()
            raise

    def keep(self) -> None:
        """Keep the folders: files were made in them."""
        self._made = []

    def unmake(self) -> None:
        """Remove the folders that were made here and not kept, if they are empty."""
        for folder in self._made:
            with contextlib.suppress(OSError):
                folder.rmdir()
