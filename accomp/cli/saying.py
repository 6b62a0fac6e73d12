"""All output of the program, made safe for terminals.

Conventions: results go to stdout, everything else to stderr. All text is printed here, so that
control characters from files never reach a terminal. Errors of stderr are ignored. `verbosity` is
how much the whole run prints besides results and errors.
"""

from __future__ import annotations

import contextlib
import json
import shutil
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextvars import ContextVar
from enum import IntEnum
from typing import Any, Self

import click

from accomp.errors import OutputError, reason


class UnsaidError(OutputError):
    """The job is done, but the output about it cannot be written to stdout."""


class Verbosity(IntEnum):
    """How much is printed: results and errors only, also what was done, or every notice."""

    QUIET = 0
    PLAIN = 1
    FULL = 2


_verbosity: ContextVar[Verbosity] = ContextVar("verbosity", default=Verbosity.PLAIN)


@contextlib.contextmanager
def own_verbosity() -> Iterator[None]:
    """A context for one run of the program, which begins with `Verbosity.PLAIN`."""
    before = _verbosity.set(Verbosity.PLAIN)
    try:
        yield
    finally:
        _verbosity.reset(before)


def set_verbosity(verbosity: Verbosity) -> None:
    """Set how much is printed from now on."""
    _verbosity.set(verbosity)


def verbosity() -> Verbosity:
    """How much is printed."""
    return _verbosity.get()


def printable(text: str) -> str:
    """Text with control characters made visible, safe for a terminal."""
    signs = (sign if sign == "\n" or sign.isprintable() else repr(sign)[1:-1] for sign in text)
    return "".join(signs)


def say(text: str) -> None:
    """Print a result. Raises `UnsaidError`."""
    _to_stdout(printable(text))


def say_done(text: str) -> None:
    """Print what was done, unless the run is quiet. Raises `UnsaidError`."""
    if verbosity() > Verbosity.QUIET:
        say(text)


def tell(text: str) -> None:
    """Print a message to stderr."""
    with contextlib.suppress(OSError):
        click.echo(printable(text), err=True)


def say_json(document: Any) -> None:
    """Print one JSON document, indented. Raises `UnsaidError`."""
    import msgspec  # late: else it would be a sixth of the time of `accomp --help`

    text = json.dumps(msgspec.to_builtins(document), ensure_ascii=False, indent=2)
    _to_stdout("".join(_in_json(sign) for sign in text))


def _in_json(sign: str) -> str:
    return sign if sign == "\n" or sign.isprintable() else json.dumps(sign)[1:-1]


def say_table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print rows under their heads; each column is as wide as its longest cell."""
    lines = [[printable(cell) for cell in line] for line in (head, *rows)]
    widths = [max(len(line[column]) for line in lines) for column in range(len(head))]
    for line in lines:
        cells = (cell.ljust(width) for cell, width in zip(line, widths, strict=True))
        say("  ".join(cells).rstrip())


class StatusLine:
    """One line on a terminal's stderr that is written again and again, and removed at the end."""

    def __init__(self) -> None:
        self._line = ""
        self._signs = sys.stderr.encoding or "ascii"

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._put("")

    def show(self, words: str, always: str) -> None:
        """Show this line; `words` are cut if both do not fit."""
        room = shutil.get_terminal_size().columns - 1 - len(always) - 1
        words = printable(words).replace("\n", " ")
        words = words if len(words) <= room else words[: max(room - 1, 0)] + "…"
        # A terminal that lacks the bar's characters must not cause an error.
        line = f"{words} {always}".encode(self._signs, "replace").decode(self._signs)
        if line != self._line:
            self._put(line)

    def _put(self, line: str) -> None:
        blank = " " * len(self._line)
        with contextlib.suppress(OSError):
            click.echo(f"\r{blank}\r{line}", err=True, nl=False)
        self._line = line


def tell_notes(notices: Iterable[str]) -> None:
    """Print notices to stderr, unless the run is quiet."""
    if verbosity() > Verbosity.QUIET:
        from accomp.cli.problems import notice_text

        for notice in notices:
            tell(f"Note: {notice_text(notice)}")


def hand_over(data: bytes) -> None:
    """Write a file's bytes to stdout as they are. Raises `UnsaidError`."""
    _to_stdout(data)


def _to_stdout(said: str | bytes) -> None:
    try:
        click.echo(said, nl=isinstance(said, str))
    except BrokenPipeError:
        raise  # the reader has seen enough, as `| head` does
    except OSError as error:
        raise UnsaidError(
            f"What was asked for is done, but what there is to say of it cannot be written "
            f"({reason(error)})."
        ) from error
