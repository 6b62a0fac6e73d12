"""The user's usual settings: the file config.toml in their folder.

Conventions: an option takes precedence over the tune file, the tune file over this file
(instrument, vocabulary), this file over the program's defaults. A setting has its option's name.
Only the command line reads the file, so that a call of the library does the same for everybody.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Any

from accomp.errors import AccompError, InputError, Problem
from accomp.files import data, values
from accomp.files.data import DEFAULT_INSTRUMENT, DataKind
from accomp.files.homes import config_folder
from accomp.files.table import Table
from accomp.files.toml import read_toml
from accomp.files.values import Value
from accomp.job.options import Options
from accomp.neck.player import INVERSIONS, VOCABULARIES, VocabularyName
from accomp.score.performance import SIDES, Side
from accomp.write.formats import PAPERS, Paper

NAME = "config.toml"
# The program's defaults; `accomp config` shows them with the file's settings.
PROGRAM: Mapping[str, str] = {
    "instrument": DEFAULT_INSTRUMENT,
    "hand": Options.hand,
    "vocabulary": INVERSIONS,
    "paper": Options.paper,
    "side": Options.side,
}
TEMPLATE = """\
# What you usually want. Options say otherwise, a tune its own instrument and vocabulary.
# Take the # away from the lines that are to hold.

# instrument = "tenor-banjo"    # see `accomp instruments`; or a file beside this one (.toml)
# hand       = "medium"         # small, medium or large; or a file beside this one (.toml)
# vocabulary = "inversions"     # first, inversions or all
# paper      = "a4"             # a4 or letter
# side       = "left"           # where the player sits in the mix: left or right
"""


@dataclass(frozen=True)
class UserSettings:
    """The settings of the user's file; None for those it does not have."""

    instrument: str | None = None
    hand: str | None = None
    vocabulary: VocabularyName | None = None
    paper: Paper | None = None
    side: Side | None = None
    file: Path = field(default_factory=lambda: config_folder() / NAME)

    @property
    def said(self) -> dict[str, str]:
        """The settings that the file has."""
        return {
            one.name: value
            for one in fields(self)
            if one.name != "file" and (value := getattr(self, one.name)) is not None
        }


def read_usual(path: Path | None = None) -> UserSettings:
    """Read the user's file, or another one like it. Raises `InputError` with every problem.

    A file that is missing or empty has no settings.
    """
    empty = UserSettings()
    file = path or empty.file
    # `os.path.isfile` is False, and no error, in a folder that may not be read.
    if not (os.path.isfile(file) and os.path.getsize(file)):
        return empty
    table = Table.of(file)
    usual = UserSettings(
        instrument=table.get("instrument", _named("instruments", file), None),
        hand=table.get("hand", _named("hands", file), None),
        vocabulary=table.get("vocabulary", values.word(VOCABULARIES), None),
        paper=table.get("paper", values.word(PAPERS), None),
        side=table.get("side", values.word(SIDES), None),
    )
    table.check()
    return usual


def usual_problems(path: Path) -> tuple[Problem, ...]:
    """The problems of the user's file, or of another one like it."""
    try:
        read_usual(path)
    except InputError as error:
        return error.problems
    return ()


def is_usual(path: Path) -> bool:
    """Whether a file is the user's config.toml, or another one like it: it has settings only, or is
    the template of `accomp new config` without a setting."""
    with contextlib.suppress(OSError):  # there is no config.toml yet
        if os.path.samefile(path, UserSettings().file):
            return True
    try:
        document = read_toml(path)
    except AccompError:
        return False  # the check of other kinds of file reports the problem
    if document.data:
        return document.data.keys() <= PROGRAM.keys()
    return document.text.startswith(TEMPLATE.splitlines()[0])


def _named(kind: DataKind, file: Path) -> Value[str]:
    """A name of a kind, or a file, whose path is relative to the folder of config.toml."""
    known = values.word(data.names(kind))

    def take(found: object) -> str:
        if isinstance(found, str) and found.endswith(".toml"):
            text = values.text()
            return text.take(str(file.parent / text.take(found)))
        return known.take(found)

    return replace(known, take=take)


def wanted(**given: Any) -> Options:
    """Options as given; for those that are None, the user's usual settings.

    Raises `InputError`, also for problems in the user's file.
    """
    usual = read_usual()
    said = usual.said
    for name in ("hand", "paper", "side"):
        if given.get(name) is None:
            given.pop(name, None)
            if name in said:
                given[name] = said[name]
    return Options(**given, usual_instrument=usual.instrument, usual_vocabulary=usual.vocabulary)
