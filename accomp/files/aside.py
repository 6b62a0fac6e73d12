"""Writing that never harms existing files: new files are made aside, then moved into place.

A `Batch` collects files in a hidden folder inside the output folder; `commit` moves them all, in
the order they were added (so the manifest goes last). Leaving without `commit` removes the folder.
An existing file is replaced only where `accomp.files.keeping` allows it.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Collection, Iterable, Mapping
from pathlib import Path
from types import TracebackType

from accomp.errors import OutputError
from accomp.files.folders import OutputFolder, output_errors
from accomp.files.keeping import keep_others
from accomp.files.moving import move_all
from accomp.files.plain import sha256


class Batch:
    """Files that appear together or not at all, in one output folder.

    With `replace` existing files are replaced, but never those of `inputs`, which the work itself
    reads. `known` has, by file name, the SHA-256 values of files that may be replaced.
    """

    def __init__(
        self,
        folder: Path,
        *,
        replace: bool = False,
        inputs: Iterable[Path] = (),
        known: Mapping[str, Collection[str]] | None = None,
    ) -> None:
        self.folder = folder
        self.replace, self.inputs, self.known = replace, tuple(inputs), known or {}
        self._place = OutputFolder(folder)
        self._aside: Path | None = None
        self._names: list[str] = []

    def __enter__(self) -> Batch:
        self._place.make()
        try:
            with output_errors(self.folder):
                self._aside = Path(tempfile.mkdtemp(prefix=".accomp-", dir=self.folder))
        except BaseException:
            self._place.unmake()
            raise
        return self

    def path(self, name: str) -> Path:
        """Add `name` to the batch; returns the path at which to write it.

        Raises `OutputError` for a name that is no plain file name, or that is there twice.
        """
        if Path(name).name != name or name in {"", ".", ".."} or "\0" in name:
            raise OutputError(f"{name!r}: not a plain file name, so it could leave the folder")
        # Many file systems treat "a.txt" and "A.txt" as one name.
        if name.casefold() in {other.casefold() for other in self._names}:
            raise OutputError(f"{name}: two results of this run would have the same name")
        assert self._aside is not None, "a batch is used inside `with`"
        self._names.append(name)
        return self._aside / name

    def commit(self) -> tuple[Path, ...]:
        """Move every file into place, in the order added, or none. Raises `OutputError`."""
        assert self._aside is not None, "a batch is used inside `with`"
        pairs = [(self._aside / name, self.folder / name) for name in self._names]
        with output_errors(self.folder):
            for source, target in pairs:
                new = {sha256(source)} if source.is_file() else set()
                keep_others(
                    target,
                    known=new | set(self.known.get(target.name, ())),
                    replace=self.replace,
                    inputs=self.inputs,
                )
                source.chmod(0o666 & ~_umask())
            move_all(pairs, Path(tempfile.mkdtemp(prefix="earlier-", dir=self._aside)))
        self._place.keep()
        return tuple(target for _, target in pairs)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._aside is not None:
            shutil.rmtree(self._aside, ignore_errors=True)
        self._place.unmake()


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
