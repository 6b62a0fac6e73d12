"""`accomp read`: somebody else's lead sheet becomes a tune file."""

from __future__ import annotations

import os
from pathlib import Path

import click

from accomp.cli.options import PATH


@click.command(short_help="Turn a MusicXML or ABC lead sheet into a tune file.")
@click.argument("leadsheet", type=PATH)
@click.option("--out", type=PATH, default=Path(), metavar="DIR", help="Folder; default: here.")
@click.option("--replace", is_flag=True, help="Replace files that are already there.")
@click.option("--json", "as_json", is_flag=True, help="Print what was read as JSON, nothing else.")
def read(leadsheet: Path, out: Path, replace: bool, as_json: bool) -> int:
    """Read LEADSHEET (.musicxml, .xml, .mxl, .abc) and write a tune file, its melody beside it.

    What cannot be taken over is said with its bar. Of several tunes in one file the good ones are
    written and the bad ones reported.
    """
    from accomp.cli.saying import say, say_json, tell_notes
    from accomp.errors import InputError, OutputError
    from accomp.files.aside import Batch
    from accomp.files.folders import output_errors
    from accomp.intake import problems_of, read_leadsheet

    imported = read_leadsheet(leadsheet)
    files: dict[str, bytes] = {}
    for one in imported:
        if one.tune is not None:
            files[one.toml_name] = one.toml.encode()
            if one.melody is not None:
                files[one.melody_name] = one.melody
    there = [name for name in files if os.path.lexists(out / name)]
    if there and not replace:
        raise OutputError(
            f"{out / there[0]}: this file is there already, and is left as it is. Choose another "
            f"folder, or have it replaced.",
            helps=("folder", "replace"),
        )
    if files:
        with Batch(out, replace=replace, inputs=(leadsheet,)) as batch:
            for name, data in files.items():
                with output_errors(out):
                    batch.path(name).write_bytes(data)
            batch.commit()
    notices = [notice for one in imported for notice in one.notices]
    problems = problems_of(imported)
    if as_json:
        say_json({"files": [str(out / name) for name in files], "notices": notices})
    else:
        for name in files:
            say(str(out / name))
    if not as_json:
        tell_notes(notices)
    if problems:
        raise InputError(problems)
    return 0
