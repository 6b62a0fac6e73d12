"""`accomp practice`: the practice page of a tune, one file for a browser."""

from __future__ import annotations

import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from accomp.cli.options import (
    HERE,
    KEYS,
    MANIFEST,
    PATH,
    PLAN,
    PLAYED,
    PLAYER,
    POSITIONS,
    REPLACE,
    STDOUT,
    STYLE,
    Number,
    options,
)


@click.command(short_help="Make a practice page: one file for any browser.")
@click.argument("tune", metavar="TUNE", type=PATH)
@options(HERE, KEYS)
@click.option(
    "--tempo",
    type=Number(),
    metavar="BPM",
    help="Beats a minute; the page goes from 30 to 150 % of it.",
)
@options(POSITIONS, STYLE, PLAYER, PLAN, PLAYED)
@options(REPLACE, MANIFEST)
def practice(tune: Path, out: Path, tempo: float | None, as_json: bool, **rest: Any) -> int:
    """Make one .html file of TUNE that plays, shows and waits: open it in any browser.

    It works offline, from a folder, a stick or an e-mail: nothing is installed, fetched or sent.
    With several positions or keys the page switches between them.
    """
    from accomp.cli.progress import progress
    from accomp.cli.saying import hand_over, say_done, say_json, tell_notes
    from accomp.cli.usual import wanted
    from accomp.cli.writing import named_file, write_text
    from accomp.job.outside import make_alone
    from accomp.tune import read_tune

    tempos = () if tempo is None else (tempo,)
    asked = wanted(tempos=tempos, only=("page",), **rest)
    read = read_tune(tune)
    with (
        progress("Making", shown=sys.stderr.isatty() and not as_json) as report,
        tempfile.TemporaryDirectory() as aside,
    ):
        alone = out == STDOUT or named_file(out, ".html")
        folder = Path(aside) if alone else out
        made = make_alone("page", read, asked, folder, report)
        if out == STDOUT:
            tell_notes(made.notices)
            hand_over((folder / made.files[0].path).read_bytes())
            return 0
        if alone:
            text = (folder / made.files[0].path).read_text(encoding="utf-8")
            write_text(out, text, replace=asked.replace, inputs=(tune,))
            made = replace(made, files=(replace(made.files[0], path=out.name),))
            out = out.parent
    if as_json:
        say_json(made)
        return 0
    tell_notes(made.notices)
    for file in made.files:
        say_done(f"{out / file.path}: open it in a browser. Start quietly.")
    return 0
