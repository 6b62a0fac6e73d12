"""Saving one file whose bytes are known, for methods such as `to_midi(path)`.

Conventions: a path that a program names is replaced, as Python's own `open` does. The new file is
written aside and then moved into place, so that the path is a whole file at every moment. Only a
plain file is replaced.
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
    """The bytes themselves without a path, else the path to which they were written.

    Missing folders are made. Raises `OutputError`, and `InputError` for anything that is no path.
    """
    if path is None:
        return data
    target = as_path(path, "the file to write")
    with Batch(target.parent, replace=True) as batch, output_errors(target.parent):
        batch.path(target.name).write_bytes(data)
        batch.commit()
    return target
