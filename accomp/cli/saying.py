"""What the program says: always in signs that a terminal may safely be sent.

Conventions: results go to stdout, everything else to stderr. All text goes through here, whatever
file it comes from; nothing else in this room prints. What is said on stderr may be lost with it.
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterable, Sequence
from typing import Any

import click
import msgspec

from accomp.errors import OutputError


class UnsaidError(OutputError):
    """What was asked for is done, but stdout does not take what is to be said of it."""


def printable(text: str) -> str:
    """Text from files as a terminal may safely show it: control characters become visible."""
    signs = (sign if sign == "\n" or sign.isprintable() else repr(sign)[1:-1] for sign in text)
    return "".join(signs)


def say(text: str) -> None:
    """Print a result. Raises `UnsaidError`."""
    _to_stdout(printable(text))


def tell(text: str) -> None:
    """Print what is to be known beside the result, or why there is none."""
    with contextlib.suppress(OSError):
        click.echo(printable(text), err=True)


def say_json(document: Any) -> None:
    """Print one JSON document, indented. Raises `UnsaidError`."""
    text = json.dumps(msgspec.to_builtins(document), ensure_ascii=False, indent=2)
    _to_stdout("".join(_in_json(sign) for sign in text))


def _in_json(sign: str) -> str:
    return sign if sign == "\n" or sign.isprintable() else json.dumps(sign)[1:-1]


def say_table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print rows under their heads, columns as wide as their longest cell."""
    lines = [[printable(cell) for cell in line] for line in (head, *rows)]
    widths = [max(len(line[column]) for line in lines) for column in range(len(head))]
    for line in lines:
        cells = (cell.ljust(width) for cell, width in zip(line, widths, strict=True))
        say("  ".join(cells).rstrip())


def tell_notes(notices: Iterable[str]) -> None:
    """Print what is to be known, beside the result."""
    for notice in notices:
        tell(f"Note: {notice}")


def _to_stdout(text: str) -> None:
    try:
        click.echo(text)
    except BrokenPipeError:
        raise  # the reader has seen enough, as `| head` does
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise UnsaidError(
            f"What was asked for is done, but what there is to say of it cannot be written "
            f"({reason})."
        ) from error
