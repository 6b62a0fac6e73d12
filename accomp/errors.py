"""The one error tree.

    AccompError            exit code 1; every error a user can meet
    ├── InputError         something the user wrote is wrong: carries one or more `Problem`s
    │   ├── ChordError     a chord symbol that cannot be read (its column counts inside the symbol)
    │   └── KeyNameError   a name that is no key with a signature; a ValueError, too
    ├── ClusterError       no scheduler at an address, or its workers have another program
    ├── NoShapeError       no playable shape or position for the request
    │   └── TooManyShapesError  too many shapes to compare
    ├── OutputError        the result cannot be written (disk full, no permission, unsafe name)
    ├── OwnFaultError      the program itself failed
    ├── NotInstalledError  a library that the request needs is not installed
    └── SoundError         no synthesiser, no usable SoundFont, or not the sound asked for

Conventions: lines and columns count from 1; a column counts characters, not bytes. A message says
where, what was found, what was expected and what to do. A setting is named as its field of
`Options` is, or "folder" for the output folder; only the command line knows its options for them.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import PurePath

INTERRUPTED = 130  # exit code after Ctrl-C


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong, with its place.

    `message` is the whole sentence without the place. `found` is the wrong text as written,
    `expected` says what would fit, `hint` what to do ("Did you mean ..."); each is empty when there
    is none. `setting` names a wrong setting, when the problem is in no file, or the one that names
    the `file`, when that is missing or of no use. `helps` names settings that would help and steps
    to take ("read_a_leadsheet"); the command line has words for them.
    """

    message: str
    file: str = ""
    line: int = 0
    column: int = 0
    found: str = ""
    expected: str = ""
    hint: str = ""
    setting: str = ""
    helps: tuple[str, ...] = ()

    def __str__(self) -> str:
        place = self.file or self.setting
        if self.line:
            at = f"{self.line}:{self.column}" if self.column else f"{self.line}"
            place = f"{place}:{at}" if place else f"line {at}"
        text = f"{place}: {self.message}" if place else self.message
        return f"{text} {self.hint}" if self.hint else text


class AccompError(Exception):
    """Base class of every error that reaches a user.

    `exit_code` is that of the command line; `helps` names the settings that would help.
    """

    exit_code = 1

    def __init__(self, message: str = "", *, helps: Iterable[str] = ()) -> None:
        super().__init__(message)
        self.helps = tuple(helps)

    def problems_in(self, file: str) -> tuple[Problem, ...]:
        """This error as problems of `file`, with their places where they have any."""
        return (Problem(str(self), file, helps=self.helps),)


class InputError(AccompError):
    """Something the user wrote is wrong. `problems` has all problems found, in file order."""

    def __init__(self, problems: Problem | Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = (
            (problems,) if isinstance(problems, Problem) else tuple(problems)
        )
        super().__init__("\n".join(str(problem) for problem in self.problems))

    def __reduce__(self) -> tuple[type[InputError], tuple[tuple[Problem, ...]]]:
        """Pickle the problems, not their text, for other processes."""
        return type(self), (self.problems,)

    def problems_in(self, file: str) -> tuple[Problem, ...]:
        """The problems, unchanged: each has its own place."""
        return self.problems


class ChordError(InputError):
    """A chord symbol that cannot be read; `problems[0].column` counts inside the symbol."""


class KeyNameError(InputError, ValueError):
    """A name that is no key, or a key without a signature of up to seven signs."""


class NoShapeError(AccompError):
    """No playable shape or position for the request; the message says what would help."""


class TooManyShapesError(NoShapeError):
    """Too many shapes to compare in reasonable time; the message says what to narrow."""


class OutputError(AccompError):
    """The result cannot be written; existing files are unchanged."""


class ClusterError(AccompError):
    """Other machines cannot do the work: none answers, or their program differs from this one."""

    def problems_in(self, file: str) -> tuple[Problem, ...]:
        """This error as a problem of the setting `cluster`: it concerns no file."""
        return (Problem(str(self), setting="cluster"),)


class SoundError(AccompError):
    """The sound cannot be made; the message says what to install, choose or do."""


class NotInstalledError(AccompError):
    """A library that the request needs is not installed; the message says how to install it."""


class OwnFaultError(AccompError):
    """The program itself failed at one of several things; the others can still be made."""


def needed(what: str, found: object, hint: str, expected: str = "") -> InputError:
    """The error for a value `found` of a wrong type.

    `what` ends with its verb ("a tune is"); `expected` is `what` without the verb if not given.
    """
    kind = type(found).__name__
    expected = expected or what.rpartition(" ")[0]
    message = f"{what} needed here, and this is of type {kind}."
    return InputError(Problem(message, found=kind, expected=expected, hint=hint))


def reason(error: OSError) -> str:
    """The system's text for why something cannot be read or written, in small letters."""
    return (error.strerror or str(error)).lower()


def problems_of(error: Exception, path: PurePath) -> tuple[Problem, ...]:
    """An error met with one of several files, as problems of that file."""
    known = error if isinstance(error, AccompError) else own_fault(error)
    return known.problems_in(str(path))


def own_fault(error: Exception) -> OwnFaultError:
    """An unexpected error as an `OwnFaultError`. With ACCOMP_DEBUG=1 it is raised unchanged."""
    if os.environ.get("ACCOMP_DEBUG"):
        raise error
    return OwnFaultError(
        f"accomp itself failed ({type(error).__name__}: {error}). This is a fault of the program, "
        f"not of yours: please report it, with what ACCOMP_DEBUG=1 prints."
    )
