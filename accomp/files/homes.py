"""The user's folders for data files, configuration and cache.

Conventions: without a home folder the paths are below `os.devnull`, where nothing exists and
nothing can be made. Callers then work as with any folder that is missing and cannot be made.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

_NOWHERE = Path(os.devnull)
_NAME = "accomp"


def data_folder() -> Path:
    """The folder of a user's own styles, instruments and the like."""
    import platformdirs  # imported late: half of the runs never need it

    return _there(lambda: platformdirs.user_data_dir(_NAME, appauthor=False))


def config_folder() -> Path:
    """The folder of the user's configuration."""
    import platformdirs

    return _there(lambda: platformdirs.user_config_dir(_NAME, appauthor=False))


def cache_folder() -> Path:
    """The folder for files that can be made again."""
    import platformdirs

    return _there(lambda: platformdirs.user_cache_dir(_NAME, appauthor=False))


def _there(find: Callable[[], str]) -> Path:
    try:
        path = Path(find())
    except (KeyError, OSError, RuntimeError):  # no HOME, and the system does not know the user
        return _NOWHERE / _NAME
    # Where the system does not know the home, the path begins with "~": a folder of that name.
    return path if path.is_absolute() else _NOWHERE / _NAME
