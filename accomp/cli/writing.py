"""Writing one file to a path that the user names, or to stdout.

Conventions: like all files of the program, it is written aside and then moved into place.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from accomp.cli.options import STDOUT
from accomp.cli.saying import hand_over, say_done


def named_file(out: Path, ending: str) -> bool:
    """Whether `--out` names the file that is made, and not the folder for it."""
    return out.suffix == ending and not out.is_dir()


def only_a_folder(out: Path | None) -> None:
    """Raise `InputError` for stdout as the output of a command that makes several files."""
    from accomp.errors import InputError, Problem

    if out == STDOUT:
        message = "several files are made, and standard output takes one."
        hint = "Name a folder."
        raise InputError(Problem(message, found="-", hint=hint, setting="folder"))


def write_text(path: Path, text: str, *, replace: bool, inputs: Iterable[Path] = ()) -> None:
    """Write a file or to stdout.

    Raises `OutputError`, also for one of the `inputs`, which the command itself reads.
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
    except OutputError as error:  # the file is not named by `--out`, so that this cannot help
        helps = [setting for setting in error.helps if setting != "folder"]
        raise OutputError(str(error), helps=helps) from error


def say_written(path: Path) -> None:
    """Print which file was written, unless it was stdout."""
    if path != STDOUT:
        say_done(str(path))
