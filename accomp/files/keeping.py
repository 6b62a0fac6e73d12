"""What may be written over: only what this program is known to have made, as it made it.

Conventions: a file that is there already is somebody's, unless its SHA-256 is one of those that are
known to be of files that this program made, or will be that of the new file; or it is sealed: a
file that stands by itself, beside no manifest, ends with the SHA-256 of all before. Being told to
replace holds for plain files; what is no plain file, and what the work itself reads, is never
written over.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
from collections.abc import Container, Iterable
from pathlib import Path

from accomp.errors import OutputError
from accomp.files.plain import open_plain, sha256, sort_of

_SEAL = re.compile(rb"<!-- as accomp made it: ([0-9a-f]{64}) -->\n\Z")
_SEAL_LENGTH = 93


def sealed(data: bytes) -> bytes:
    """A file of markup (HTML, XML) that later tells by itself whether anybody has changed it."""
    return data + f"<!-- as accomp made it: {hashlib.sha256(data).hexdigest()} -->\n".encode()


def as_sealed(path: Path) -> bool:
    """Whether a plain file ends with a seal, and the rest is as it was sealed. Raises `OSError`."""
    with open_plain(path) as stream:
        stream.seek(max(0, os.fstat(stream.fileno()).st_size - _SEAL_LENGTH))
        if _SEAL.fullmatch(stream.read()) is None:
            return False
        stream.seek(0)
        data = stream.read()
    return data == sealed(data[:-_SEAL_LENGTH])


def keep_others(
    path: Path, *, known: Container[str] = (), replace: bool = False, inputs: Iterable[Path] = ()
) -> None:
    """Raise `OutputError` when a file that is not to be lost stands at a path.

    `known` are the SHA-256 of what may be written over; `inputs` the files that the work reads.
    """
    try:
        state = os.lstat(path)
    except FileNotFoundError:
        return
    if stat.S_ISDIR(state.st_mode):
        raise OutputError(f"{path}: a folder stands where a file would go. Choose another name.")
    if not stat.S_ISREG(state.st_mode):
        raise OutputError(
            f"{path}: this is {sort_of(state)}, and only plain files are written to. Choose "
            f"another name."
        )
    if any(_same(path, one) for one in inputs):
        raise OutputError(
            f"{path}: this file is read for this very work, and would be lost. Choose another name."
        )
    if replace or sha256(path) in known or as_sealed(path):
        return
    raise OutputError(
        f"{path}: this file is there already, and is not as this program would have made it. It is "
        f"left as it is. Choose another place, or have it replaced.",
        helps=("replace",),
    )


def _same(path: Path, other: Path) -> bool:
    try:
        return os.path.samefile(path, other)
    except OSError:
        return False
