"""Looking up instruments, styles, hands and the user's own files by name; the player on them.

Conventions: a name that ends in ".toml" is a file. An option may name a file anywhere. A tune file
can only name files in its own folder. Problems are collected and raised together.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeVar

from accomp.errors import InputError, Problem
from accomp.files.data import DEFAULT_INSTRUMENT
from accomp.files.toml import ENDING
from accomp.job.options import Options
from accomp.neck import (
    Instrument,
    Player,
    find_hand,
    find_instrument,
    read_instrument,
    read_repertoire,
    read_weights,
)
from accomp.rhythm import Style, find_style, read_style

Thing = TypeVar("Thing")


def instrument_named(name: str, beside: Path | None = None) -> Instrument:
    """An instrument by name or file; `beside` is the tune file that names it, None for options."""
    return _named(name, beside, find_instrument, read_instrument, "instrument")


def style_named(name: str, beside: Path | None = None) -> Style:
    """A style by name or file; `beside` is the tune file that names it, None for options."""
    return _named(name, beside, find_style, read_style, "style")


def _named(
    name: str,
    beside: Path | None,
    find: Callable[[str], Thing],
    read: Callable[[Path], Thing],
    setting: str,
) -> Thing:
    """The thing of a name, found or read from a file. Raises `InputError`."""
    if not name.endswith(ENDING):
        return find(name)
    if beside is None:
        return read(Path(name))
    if any(sign in name for sign in "/\\:\0"):
        message = f"{name!r} lies elsewhere: a tune file can only name files in its own folder."
        hint = "Put the file beside the tune, or name it where you ask for the job."
        raise InputError(
            Problem(message, found=name, expected="a file name", hint=hint, helps=(setting,))
        )
    return read(beside.parent / name)


def find_player(options: Options) -> Player:
    """The player that options describe. Raises `InputError` with every problem there is."""
    usual = not options.instrument and options.usual_instrument
    name = options.instrument or usual or DEFAULT_INSTRUMENT
    setting = "usual_instrument" if usual else "instrument"
    return player_on(lambda: instrument_named(name), options, setting)


def player_on(
    find: Callable[[], Instrument], options: Options, setting: str = "instrument"
) -> Player:
    """The player that options describe, on the instrument that `find` returns.

    `setting` is the option that names the instrument. Raises `InputError` with every problem there
    is.
    """
    lookup = Lookup()
    player = lookup.player(options, lookup.at(Origin(setting=setting), find))
    if player is None:
        raise InputError(lookup.problems)
    return player


@dataclass(frozen=True)
class Origin:
    """Where a name was given: in a tune's file, or by an option."""

    file: str = ""
    line: int = 0
    column: int = 0
    setting: str = ""

    @property
    def beside(self) -> Path | None:
        """The tune file; None for an option."""
        return Path(self.file) if self.file else None

    def problem(self, message: str, *, found: str, expected: str, hint: str) -> Problem:
        """A problem with the name that was given there."""
        at = self.file, self.line, self.column
        return Problem(message, *at, found, expected, hint, self.setting)

    def placed(self, problem: Problem) -> Problem:
        """A problem that the name led to. Without a place of its own it gets the name's; one with a
        whole file that an option names keeps the file and gets the option's name as well."""
        if problem.line:
            return problem
        if problem.file and not self.file:
            return replace(problem, setting=self.setting)
        return replace(
            problem, file=self.file, line=self.line, column=self.column, setting=self.setting
        )


@dataclass(frozen=True)
class Lookup:
    """Finds one thing after another and collects the problems."""

    problems: list[Problem] = field(default_factory=list)

    def at(self, origin: Origin, find: Callable[[], Thing]) -> Thing | None:
        """The result of `find`; None after a problem, which is `placed`."""
        try:
            return find()
        except InputError as error:
            self.problems.extend(origin.placed(problem) for problem in error.problems)
            return None

    def player(self, options: Options, instrument: Instrument | None) -> Player | None:
        """The player on an instrument; None after any problem."""
        hand = self.at(Origin(setting="hand"), lambda: find_hand(options.hand))
        if hand is not None and options.reach_mm is not None:
            hand = hand.with_reach(options.reach_mm)
        repertoire = self._file(
            "repertoire", options.repertoire, lambda path: read_repertoire(path, instrument)
        )
        weights = self._file("costs", options.costs, read_weights)
        if self.problems or instrument is None or hand is None:
            return None
        return Player.on(instrument, hand, repertoire, mute=options.mute, weights=weights)

    def _file(self, setting: str, path: Path | None, read: Callable[[Path], Thing]) -> Thing | None:
        """The content of a user's data file, None without a path or after a problem."""
        return None if path is None else self.at(Origin(setting=setting), lambda: read(path))
