"""Finished pages of tunes, kept in the user's cache, so that an unchanged tune is not engraved
again.

Conventions: an entry is named by the SHA-256 of all that decides it. What cannot be read or written
here is made anew: the cache is never needed.
"""

from __future__ import annotations

import contextlib
import gzip
import os
import tempfile
from pathlib import Path

MOST_BYTES = 200_000_000  # older entries go when there is more


def _folder() -> Path:
    import platformdirs

    return Path(platformdirs.user_cache_dir("accomp", appauthor=False)) / "pages"


def fetch(name: str) -> bytes | None:
    """What was kept under a name, None when nothing is there or it is damaged."""
    path = _folder() / f"{name}.json.gz"
    try:
        data = gzip.decompress(path.read_bytes())
        os.utime(path)
    except (OSError, EOFError, gzip.BadGzipFile, ValueError):
        return None
    return data


def keep(name: str, data: bytes) -> None:
    """Keep something under a name; silently not, where that is not possible."""
    folder = _folder()
    with contextlib.suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
        handle, aside = tempfile.mkstemp(prefix=".", dir=folder)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(gzip.compress(data, compresslevel=1, mtime=0))
            os.replace(aside, folder / f"{name}.json.gz")
        except OSError:
            Path(aside).unlink(missing_ok=True)


def tidy() -> None:
    """Remove the entries that were not asked for longest, until the rest is small enough."""
    with contextlib.suppress(OSError):
        found = [(entry.stat(), entry.path) for entry in os.scandir(_folder())]
        total = 0
        for state, path in sorted(found, key=lambda row: row[0].st_mtime, reverse=True):
            total += state.st_size
            if total > MOST_BYTES:
                Path(path).unlink(missing_ok=True)
