"""The one error tree.

    AccompError            exit code 1; every error a user can meet
    ├── InputError         something the user wrote is wrong: carries one or more `Problem`s
    │   ├── ChordError     a chord symbol that cannot be read (its column counts inside the symbol)
    │   └── KeyNameError   a name that is no key with a signature; a ValueError, too
    ├── ClusterError       nobody at the address of an engine, or other programs at work there
    ├── NoShapeError       no playable shape or position for what was asked
    │   └── TooManyShapesError  or too many to weigh them
    ├── OutputError        the result cannot be written (disk full, no permission, unsafe name)
    ├── OwnFaultError      the program itself failed
    ├── NotInstalledError  a library that is asked for is not there
    └── SoundError         no synthesiser, no usable SoundFont, or not the sound asked for

Conventions: lines and columns count from 1; a column counts characters, not bytes. A message says
where, what was found, what was expected and what to do. What somebody can set (a field of
`Options`, the output folder) has its name there as its name here; how it is set on a command line
is for the command line to say.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import PurePath

INTERRUPTED = 130  # exit code of whoever was told to stop, by Ctrl-C


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong, with its place.

    `message` is the whole sentence without the place; `found` the offending text as written,
    `expected` what would fit, `hint` what to do ("Did you mean ..."); empty when there is none.
    `setting` names what was set wrongly, where that is no file; `helps` the settings that would
    help, and steps to take ("read_a_leadsheet"), for which a command line has words of its own.
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
    """Root of every error that reaches a user; `exit_code` belongs to the class.

    `helps` names the settings that would help.
    """

    exit_code = 1

    def __init__(self, message: str = "", *, helps: Iterable[str] = ()) -> None:
        super().__init__(message)
        self.helps = tuple(helps)

    def problems_in(self, file: str) -> tuple[Problem, ...]:
        """What this says of a file, as problems with their places where they have any."""
        return (Problem(str(self), file, helps=self.helps),)


class InputError(AccompError):
    """What the user wrote is wrong. `problems` holds every one found, in file order."""

    def __init__(self, problems: Problem | Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = (
            (problems,) if isinstance(problems, Problem) else tuple(problems)
        )
        super().__init__("\n".join(str(problem) for problem in self.problems))

    def __reduce__(self) -> tuple[type[InputError], tuple[tuple[Problem, ...]]]:
        """A copy from another process is made of the problems, not of their text."""
        return type(self), (self.problems,)

    def problems_in(self, file: str) -> tuple[Problem, ...]:
        """The problems as they are: each knows its place."""
        return self.problems


class ChordError(InputError):
    """A chord symbol that cannot be read; `problems[0].column` counts inside the symbol."""


class KeyNameError(InputError, ValueError):
    """A name that is no key, or one of a key that no signature of up to seven signs says."""


class NoShapeError(AccompError):
    """No playable shape or position for what was asked; the message says what would help."""


class TooManyShapesError(NoShapeError):
    """So many shapes that they cannot be weighed in reasonable time; the message says what to
    narrow."""


class OutputError(AccompError):
    """The result cannot be written; what was there before is untouched."""


class ClusterError(AccompError):
    """Other machines cannot do the work: nobody answers, or not the same program works there."""

    def problems_in(self, file: str) -> tuple[Problem, ...]:
        """What is wrong with the engine is no file's, but the address's."""
        return (Problem(str(self), setting="cluster"),)


class SoundError(AccompError):
    """No right sound can be made; the message says what to install, choose or do."""


class NotInstalledError(AccompError):
    """A library of others that was asked for is not installed; the message says how to."""


class OwnFaultError(AccompError):
    """The program itself failed, where others of several things can still be made."""


def needed(what: str, found: object, hint: str, expected: str = "") -> InputError:
    """What is said where something of another type is given; `what` has its verb ("a tune is"),
    `expected` is the same without it unless it is said."""
    kind = type(found).__name__
    expected = expected or what.rpartition(" ")[0]
    message = f"{what} needed here, and this is of type {kind}."
    return InputError(Problem(message, found=kind, expected=expected, hint=hint))


def reason(error: OSError) -> str:
    """Why something cannot be read or written, as the system says it, in small letters."""
    return (error.strerror or str(error)).lower()


def problems_of(error: Exception, path: PurePath) -> tuple[Problem, ...]:
    """What kept one of several files from being used, as problems of that file."""
    known = error if isinstance(error, AccompError) else own_fault(error)
    return known.problems_in(str(path))


def own_fault(error: Exception) -> OwnFaultError:
    """An error that nobody foresaw, in words. It is raised as it is with ACCOMP_DEBUG=1."""
    if os.environ.get("ACCOMP_DEBUG"):
        raise error
    return OwnFaultError(
        f"accomp itself failed ({type(error).__name__}: {error}). This is a fault of the program, "
        f"not of yours: please report it, with what ACCOMP_DEBUG=1 prints."
    )
