"""Plain tables, JSON and notes; how far a job is."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

import click
import msgspec


def echo_json(document: Any) -> None:
    """Print one JSON document, indented."""
    click.echo(msgspec.json.format(msgspec.json.encode(document), indent=2))


def echo_table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print rows under their heads, columns as wide as their longest cell."""
    lines = [tuple(head), *(tuple(row) for row in rows)]
    widths = [max(len(line[column]) for line in lines) for column in range(len(head))]
    for line in lines:
        cells = (cell.ljust(width) for cell, width in zip(line, widths, strict=True))
        click.echo("  ".join(cells).rstrip())


def echo_notes(notices: Iterable[str]) -> None:
    """Print what is to be known, beside the result."""
    from accomp.cli import printable

    for notice in notices:
        click.echo(printable(f"Note: {notice}"), err=True)


@contextlib.contextmanager
def progress(what: str, *, shown: bool) -> Iterator[Callable[[str, float], None] | None]:
    """A bar on stderr; yields what to tell it, None when nobody is to see one."""
    if not shown:
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=1.0)
        yield lambda what, share: bar.update(task, completed=share, description=what)
