"""Which existing files may be replaced: only those that this program made and nobody changed.

Conventions: an existing file may be replaced when its SHA-256 is that of a file made earlier or of
the new file, or when it is sealed. A sealed file has no manifest beside it; it ends with the
SHA-256 of everything before that line. `replace` allows any plain file to be replaced. A file that
is no plain file, or that the work itself reads, is never replaced.
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
    """A markup file (HTML, XML) with a seal at its end, which later shows any change."""
    return data + f"<!-- as accomp made it: {hashlib.sha256(data).hexdigest()} -->\n".encode()


def as_sealed(path: Path) -> bool:
    """Whether a plain file ends with a seal that fits the rest of it. Raises `OSError`."""
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
    """Raise `OutputError` when the file at a path may not be replaced.

    `known` are the SHA-256 values of files that may be; `inputs` are the files that the work reads.
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
