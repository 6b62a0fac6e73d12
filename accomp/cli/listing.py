"""Plain tables and JSON on stdout."""

from __future__ import annotations

from collections.abc import Sequence
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
