"""The user's folders: what they put there for the program, and what it keeps for them.

Conventions: nobody need have a home. Without one the folders are below a file, where nothing is
and nothing can be made: whoever can do without a folder that cannot be made then does.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

_NOWHERE = Path(os.devnull)
_NAME = "accomp"


def data_folder() -> Path:
    """Where a user's own styles, instruments and the like are looked for."""
    import platformdirs  # imported late: half of the calls never need it

    return _there(lambda: platformdirs.user_data_dir(_NAME, appauthor=False))


def config_folder() -> Path:
    """Where a user says what they usually want."""
    import platformdirs

    return _there(lambda: platformdirs.user_config_dir(_NAME, appauthor=False))


def cache_folder() -> Path:
    """Where is kept what can be made again."""
    import platformdirs

    return _there(lambda: platformdirs.user_cache_dir(_NAME, appauthor=False))


def _there(find: Callable[[], str]) -> Path:
    try:
        path = Path(find())
    except (KeyError, OSError, RuntimeError):  # no HOME, and the system does not know the user
        return _NOWHERE / _NAME
    # What the system cannot fill in stays "~", which would be a folder of that name.
    return path if path.is_absolute() else _NOWHERE / _NAME
