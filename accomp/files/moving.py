"""Moving files into place, all of them or none.

Conventions: each pair is (source, target), on one file system. At every moment each target is a
whole file, the earlier or the new one, so that a killed process does no harm.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Sequence
from pathlib import Path


def move_all(pairs: Sequence[tuple[Path, Path]], earlier: Path) -> None:
    """Move every file, in order; after an error or Ctrl-C everything is as it was before.

    The folder `earlier` keeps replaced files meanwhile; the caller removes it. Raises `OSError`.
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
    """Keep a file under a second name: as a hard link, or as a copy where there are none."""
    copy.unlink(missing_ok=True)
    try:
        os.link(target, copy)
    except OSError:
        shutil.copy2(target, copy)
