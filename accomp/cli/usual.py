"""What a user usually wants: the file config.toml in their own folder, below every option.

Conventions: an option holds before the tune file, the tune file before this one (instrument,
vocabulary), this one before the program. What a setting is called here is its option's name. Only
the command line reads it: the same call of the library does the same for everybody.
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
# What holds where nobody says anything; `accomp config` shows them with the file's.
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
class Usual:
    """What a user's file says; None where it says nothing."""

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


def read_usual(path: Path | None = None) -> Usual:
    """The user's file, or one that is to become it. Raises `InputError` with every problem."""
    empty = Usual()
    file = path or empty.file
    # Asked of the system, which says no where a folder may not be looked into.
    if not (os.path.isfile(file) and os.path.getsize(file)):
        return empty
    table = Table.of(file)
    usual = Usual(
        instrument=table.get("instrument", _named("instruments", file), None),
        hand=table.get("hand", _named("hands", file), None),
        vocabulary=table.get("vocabulary", values.word(VOCABULARIES), None),
        paper=table.get("paper", values.word(PAPERS), None),
        side=table.get("side", values.word(SIDES), None),
    )
    table.check()
    return usual


def usual_problems(path: Path | None = None) -> tuple[Problem, ...]:
    """What is wrong in the user's file, or in one that is to become it."""
    try:
        read_usual(path)
    except InputError as error:
        return error.problems
    return ()


def is_usual(path: Path) -> bool:
    """Whether a file is the user's, or one that is to become it, such as `accomp new config FILE`
    writes: nothing in it but settings, or no more than their names after a #."""
    with contextlib.suppress(OSError):  # there is none yet
        if os.path.samefile(path, Usual().file):
            return True
    try:
        document = read_toml(path)
    except AccompError:
        return False  # who reads it for what else it may be says what is wrong
    if document.data:
        return document.data.keys() <= PROGRAM.keys()
    return document.text.startswith(TEMPLATE.splitlines()[0])


def _named(kind: DataKind, file: Path) -> Value[str]:
    """One of a kind by name, or by a file, whose name counts from the folder of the user's."""
    known = values.word(data.names(kind))

    def take(found: object) -> str:
        if isinstance(found, str) and found.endswith(".toml"):
            text = values.text()
            return text.take(str(file.parent / text.take(found)))
        return known.take(found)

    return replace(known, take=take)


def wanted(**given: Any) -> Options:
    """Options as given; those left open (None) as the user usually wants them.

    Raises `InputError`, also for what is wrong in the user's file.
    """
    usual = read_usual()
    said = usual.said
    for name in ("hand", "paper", "side"):
        if given.get(name) is None:
            given.pop(name, None)
            if name in said:
                given[name] = said[name]
    return Options(**given, usual_instrument=usual.instrument, usual_vocabulary=usual.vocabulary)
