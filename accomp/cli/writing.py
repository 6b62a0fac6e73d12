"""Writing one file that was asked for by name, or handing it over on stdout.

Conventions: a file is written aside and moved into place, as everything that the program writes.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from accomp.cli.options import STDOUT
from accomp.cli.saying import hand_over, say_done


def write_text(path: Path, text: str, *, replace: bool, inputs: Iterable[Path] = ()) -> None:
    """Write a file; it is none of the `inputs`, which the command itself reads.

    Raises `OutputError`.
    """
    from accomp.files.aside import Batch
    from accomp.files.folders import output_errors

    if path == STDOUT:
        hand_over(text.encode())
        return
    with (
        Batch(path.parent, replace=replace, inputs=inputs) as batch,
        output_errors(path.parent),
    ):
        batch.path(path.name).write_text(text, encoding="utf-8")
        batch.commit()


def say_written(path: Path) -> None:
    """Say which file was written, unless it went to stdout."""
    if path != STDOUT:
        say_done(str(path))
