"""Saving one file whose bytes are at hand: handed back, or written where somebody says.

Conventions: whoever names a path in a program of their own means it, so that a plain file there is
written over, as Python's own `open` does; but aside first and then moved into place, so that at
every moment a whole file is there. What is no plain file is never written over.
"""

from __future__ import annotations

from pathlib import Path
from typing import overload

from accomp.files.aside import Batch
from accomp.files.folders import output_errors
from accomp.files.paths import StrPath, as_path


@overload
def saved(data: bytes, path: None) -> bytes: ...
@overload
def saved(data: bytes, path: StrPath) -> Path: ...
@overload
def saved(data: bytes, path: StrPath | None) -> bytes | Path: ...
def saved(data: bytes, path: StrPath | None) -> bytes | Path:
    """The bytes themselves without a path, else the path they are written to.

    Folders that are missing are made. Raises `OutputError`, `InputError` for what is no path.
    """
    if path is None:
        return data
    target = as_path(path, "the file to write")
    with Batch(target.parent, replace=True) as batch, output_errors(target.parent):
        batch.path(target.name).write_bytes(data)
        batch.commit()
    return target
