"""`accomp read`: a lead sheet from another program becomes a tune file."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from accomp.cli.options import HERE, PATH, REPLACE, STDOUT, options

if TYPE_CHECKING:
    from accomp.intake import ImportedTune


@click.command(short_help="Turn a MusicXML or ABC lead sheet into a tune file.")
@click.argument("leadsheet", type=PATH)
@options(HERE)
@options(REPLACE)
@click.option("--json", "as_json", is_flag=True, help="Print what was read as JSON, nothing else.")
def read(leadsheet: Path, out: Path, as_json: bool, **rest: bool) -> int:
    """Read LEADSHEET (.musicxml, .xml, .mxl, .abc) and write a tune file, its melody beside it.

    What cannot be taken over is said with its bar. Of several tunes in one file the good ones are
    written and the bad ones reported.
    """
    from accomp.cli.problems import problem_table, problem_text
    from accomp.cli.saying import say_done, say_json, tell, tell_notes
    from accomp.cli.writing import named_file
    from accomp.errors import InputError, OutputError
    from accomp.files.aside import Batch
    from accomp.files.folders import output_errors
    from accomp.intake import all_problems, read_leadsheet

    imported = read_leadsheet(leadsheet)
    if out == STDOUT:
        return _hand_over(imported)
    own_name = out.name if named_file(out, ".toml") else ""
    if own_name:
        _only_one(imported)
        out = out.parent
    files: dict[str, bytes] = {}
    for one in imported:
        if one.tune is not None:
            files[own_name or one.toml_name] = one.toml.encode()
            if one.melody is not None:
                files[one.melody_name] = one.melody
    there = [name for name in files if os.path.lexists(out / name)]
    if there and not rest["replace"]:
        raise OutputError(
            f"{out / there[0]}: this file is there already, and is left as it is. Choose another "
            f"folder, or have it replaced.",
            helps=("folder", "replace"),
        )
    if files:
        with Batch(out, replace=rest["replace"], inputs=(leadsheet,)) as batch:
            for name, data in files.items():
                with output_errors(out):
                    batch.path(name).write_bytes(data)
            batch.commit()
    notices = [notice for one in imported for notice in one.notices]
    problems = all_problems(imported)
    if problems and not files:
        raise InputError(problems)
    if as_json:
        made = [str(out / name) for name in files]
        say_json({"files": made, "notices": notices, "problems": problem_table(problems)})
    else:
        for name in files:
            say_done(str(out / name))
        tell_notes(notices)
    for problem in problems:
        tell(problem_text(problem))
    return 1 if problems else 0


def _hand_over(imported: Sequence[ImportedTune]) -> int:
    """Write the tune file to stdout, without the melody, which would be a second file."""
    from accomp.cli.saying import hand_over, tell_notes
    from accomp.errors import InputError
    from accomp.intake import all_problems

    problems = all_problems(imported)
    if problems:
        raise InputError(problems)
    one = _only_one(imported)
    tell_notes(one.notices)
    if one.melody is not None:
        tell_notes(["The melody is left out: it would be a file beside the tune's."])
    alone = replace(one, tune=replace(one.tune, melody=None)) if one.tune else one
    hand_over(alone.toml.encode())
    return 0


def _only_one(imported: Sequence[ImportedTune]) -> ImportedTune:
    """The only tune. Raises `InputError` if there are several."""
    from accomp.errors import InputError, Problem

    if len(imported) > 1:
        message = f"there are {len(imported)} tunes in it, and one file takes only one."
        raise InputError(Problem(message, hint="Name a folder.", setting="folder"))
    return imported[0]
