"""Where data files are: the user's folder, the installed package, the checkout.

Conventions: a kind is the name of a folder; a name is a file name without ".toml". The user's
folder wins over the package, so that a file can be replaced.
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
from accomp.files.toml import nearest

# What lies in folders and is looked up by its name.
DataKind = Literal["styles", "instruments", "hands", "repertoires", "soundfonts"]
# What is asked for by its name, in a word, and where it lies.
Thing = Literal["style", "instrument", "hand"]
FOLDERS: Mapping[Thing, DataKind] = {
    "style": "styles", "instrument": "instruments", "hand": "hands"
}  # fmt: skip
DEFAULT_INSTRUMENT = "tenor-banjo"
_PACKAGE = Path(accomp.__file__).parent / "data"
_FEW = 12  # so many names are listed although there is a near one
_CHECKOUT = Path(accomp.__file__).parent.parent


def folders(kind: DataKind) -> tuple[Path, ...]:
    """Existing folders of a kind, the first one wins."""
    folders = (data_folder() / kind, _PACKAGE / kind, _CHECKOUT / kind)
    return tuple(folder for folder in folders if os.path.isdir(folder))


def names(kind: DataKind) -> tuple[str, ...]:
    """All names of a kind, sorted."""
    return tuple(sorted({path.stem for folder in folders(kind) for path in folder.glob("*.toml")}))


def find(kind: DataKind, name: str) -> Path | None:
    """The file of a kind by name, or None. A name with a separator is never found."""
    if not name or any(sign in name for sign in "/\\\0:") or name.startswith("."):
        return None
    for folder in folders(kind):
        path = folder / f"{name}.toml"
        if os.path.isfile(path):  # a name too long for the system is none, rather than an error
            return path
    return None


def look_up(kind: DataKind, name: str, thing: str, more: str = "") -> Path:
    """The file of a kind by name. Raises `InputError` with the names there are; `thing` is what a
    name stands for ("a hand"), `more` what else can be given."""
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
    """Whether what may be a name or a file of the user's is a file."""
    return name.endswith(".toml") or "/" in name


def as_name(found: object, thing: str) -> str:
    """The name of `thing` ("a hand"). Raises `InputError` for what is no text."""
    if isinstance(found, str):
        return found
    kind = type(found).__name__
    message = f"{thing} is named here by a text, and this is of type {kind}."
    raise InputError(Problem(message, found=kind, expected="a text", hint="Write it in quotes."))


def package_file(name: str) -> Path:
    """A table that always comes with the package, e.g. "chords.toml"."""
    return _PACKAGE / name


def package_data(name: str) -> dict[str, Any]:
    """What such a table says, without places or checks: it is ours, and each start waits for it."""
    return tomllib.loads(package_file(name).read_text(encoding="utf-8"))
