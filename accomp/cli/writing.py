"""Writing one file that was asked for by name, or handing it over on stdout.

Conventions: a file is written aside and moved into place, as everything that the program writes.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from accomp.cli.options import STDOUT
from accomp.cli.saying import hand_over, say_done


def named_file(out: Path, ending: str) -> bool:
    """Whether `--out` names the one file that is made, not the folder that it goes into."""
    return out.suffix == ending and not out.is_dir()


def only_a_folder(out: Path | None) -> None:
    """Where several files are made, standard output takes none of them.

    Raises `InputError`.
    """
    from accomp.errors import InputError, Problem

    if out == STDOUT:
        message = "several files are made, and standard output takes one."
        hint = "Name a folder."
        raise InputError(Problem(message, found="-", hint=hint, setting="folder"))


def write_text(path: Path, text: str, *, replace: bool, inputs: Iterable[Path] = ()) -> None:
    """Write a file; it is none of the `inputs`, which the command itself reads.

    Raises `OutputError`.
    """
    from accomp.errors import OutputError
    from accomp.files.aside import Batch
    from accomp.files.folders import output_errors

    if path == STDOUT:
        hand_over(text.encode())
        return
    try:
        with (
            Batch(path.parent, replace=replace, inputs=inputs) as batch,
            output_errors(path.parent),
        ):
            batch.path(path.name).write_text(text, encoding="utf-8")
            batch.commit()
    except OutputError as error:  # no --out says where such a file goes
        helps = [setting for setting in error.helps if setting != "folder"]
        raise OutputError(str(error), helps=helps) from error


def say_written(path: Path) -> None:
    """Say which file was written, unless it went to stdout."""
    if path != STDOUT:
        say_done(str(path))
