"""Finding data files: in the user's folder, the installed package, the checkout.

Conventions: a kind is the name of a folder; a name is a file name without ".toml". A file in the
user's folder takes the place of the package's file of the same name.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal

import accomp
from accomp.errors import InputError, Problem
from accomp.files.homes import data_folder
from accomp.files.toml import ENDING, nearest

# Folders of data files that are looked up by name.
DataKind = Literal["styles", "instruments", "hands", "repertoires", "soundfonts"]
# Things that a user asks for by name, and the folder of each.
Thing = Literal["style", "instrument", "hand"]
FOLDERS: Mapping[Thing, DataKind] = {
    "style": "styles", "instrument": "instruments", "hand": "hands"
}  # fmt: skip
DEFAULT_INSTRUMENT = "tenor-banjo"
# What a list of known names ends with where a file of the user's may be named, too.
OR_A_FILE = f"; or give a file ending in {ENDING}"
_PACKAGE = Path(accomp.__file__).parent / "data"
_FEW = 12  # up to so many names are listed even when one is close to the name given
_CHECKOUT = Path(accomp.__file__).parent.parent


def folders(kind: DataKind) -> tuple[Path, ...]:
    """Existing folders of a kind; a file in an earlier one hides its namesakes in later ones."""
    folders = (data_folder() / kind, _PACKAGE / kind, _CHECKOUT / kind)
    return tuple(folder for folder in folders if os.path.isdir(folder))


def names(kind: DataKind) -> tuple[str, ...]:
    """All names of a kind, sorted."""
    return tuple(sorted({path.stem for folder in folders(kind) for path in folder.glob("*.toml")}))


def find(kind: DataKind, name: str) -> Path | None:
    """The file of a kind by name, or None. A name with a path separator is never found."""
    if not name or any(sign in name for sign in "/\\\0:") or name.startswith("."):
        return None
    for folder in folders(kind):
        path = folder / f"{name}.toml"
        if os.path.isfile(path):  # False, and no error, for a name that is too long
            return path
    return None


def look_up(kind: DataKind, name: str, thing: str, more: str = "") -> Path:
    """The file of a kind by name. Raises `InputError` that lists the known names.

    In the message `thing` says what the name stands for ("a hand"); `more` is added to the list.
    """
    path = find(kind, as_name(name, thing))
    if path is not None:
        return path
    known = names(kind)
    listed = f"Known {kind}: {', '.join(known)}{more}."
    close = nearest(name, known)
    hint = f"Did you mean {close!r}? " if close else ""
    if not close or len(known) <= _FEW:
        hint += listed
    message = f"{name!r} is not {thing}."
    raise InputError(Problem(message, found=name, expected=", ".join(known), hint=hint.strip()))


def is_file(name: str) -> bool:
    """Whether a text is the path of a user's file, and not a name."""
    return name.endswith(".toml") or "/" in name


def as_name(found: object, thing: str) -> str:
    """`found` as the name of `thing` ("a hand"). Raises `InputError` unless it is a text."""
    if isinstance(found, str):
        return found
    kind = type(found).__name__
    message = f"{thing} is named here by a text, and this is of type {kind}."
    raise InputError(Problem(message, found=kind, expected="a text", hint="Write it in quotes."))


def package_file(name: str) -> Path:
    """The path of a table that is part of the package, e.g. "chords.toml"."""
    return _PACKAGE / name


def package_data(name: str) -> dict[str, Any]:
    """The content of such a table, read without places or checks: it is ours, and must be quick."""
    return tomllib.loads(package_file(name).read_text(encoding="utf-8"))
