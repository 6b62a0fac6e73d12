"""Moving files into place, all of them or none.

Conventions: each pair is (where the file is, where it goes), on one file system. At every moment
each place holds a whole file, the earlier or the new one, so that a kill in between harms nothing.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Sequence
from pathlib import Path


def move_all(pairs: Sequence[tuple[Path, Path]], earlier: Path) -> None:
    """Move every file, in order; after an error or Ctrl-C everything is as it was before.

    `earlier` is a folder to keep what was there meanwhile; it is left for the caller to remove.
    Raises `OSError` as the system says it.
    """
    earlier.mkdir(exist_ok=True)
    kept: dict[Path, Path] = {}
    for number, (_, target) in enumerate(pairs):
        if os.path.lexists(target):
            kept[target] = earlier / str(number)
            _keep(target, kept[target])
    moved: list[tuple[Path, Path]] = []
    try:
        for source, target in pairs:
            moved.append((source, target))
            os.replace(source, target)
    except BaseException:
        for source, target in reversed(moved):
            if not source.exists():
                with contextlib.suppress(OSError):
                    os.replace(target, source)
            if target in kept:
                with contextlib.suppress(OSError):
                    os.replace(kept[target], target)
        raise


def _keep(target: Path, copy: Path) -> None:
    """A second name for a file, or a copy where the file system has no second names."""
    copy.unlink(missing_ok=True)
    try:
        os.link(target, copy)
    except OSError:
        shutil.copy2(target, copy)
