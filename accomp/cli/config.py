"""`accomp config`: the user's usual settings, and the file that holds them."""

from __future__ import annotations

import os

import click


@click.command(short_help="Show what holds where you say nothing, and where to say it.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON, nothing else.")
def config(as_json: bool) -> None:
    """Show what holds where no option says anything, and which file of yours says so.

    `accomp new config` writes that file, to be edited.
    """
    from accomp.cli.saying import say, say_json, say_table
    from accomp.cli.usual import PROGRAM, read_usual

    usual = read_usual()
    said, there = usual.said, os.path.isfile(usual.file)
    if as_json:
        settings = {**PROGRAM, **said}
        say_json({"file": str(usual.file), "there": there, "settings": settings})
        return
    say(f"{usual.file}{'' if there else ' (not there yet: `accomp new config` writes it)'}")
    say_table(
        ("setting", "value", "said by"),
        [
            (name, said.get(name, value), "your file" if name in said else "the program")
            for name, value in PROGRAM.items()
        ],
    )
