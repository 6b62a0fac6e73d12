"""`accomp practice`: one page to open in a browser."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from accomp.cli.options import MANIFEST, PATH, PLAN, PLAYER, REPLACE, options
from accomp.job.options import Options
from accomp.time import MOST_CHORUSES


@click.command(short_help="Make a practice page: one file for any browser.")
@click.argument("tune", metavar="TUNE", type=PATH)
@click.option("--out", type=PATH, default=Path(), metavar="DIR", help="Folder; default: here.")
@click.option("--key", "keys", multiple=True, help="Key to play in, as F or Dm; repeatable; `all`.")
@click.option("--tempo", type=float, help="Beats a minute; the page goes from 30 to 150 % of it.")
@click.option(
    "--position",
    "positions",
    multiple=True,
    help="Area of the neck: root-top, third-top ... (see `accomp positions`), `all`, or a fret "
    "for the index finger; repeatable.",
)
@click.option("--style", help="Style of the right hand and the band; see `accomp styles`.")
@options(PLAYER, PLAN)
@click.option("--choruses", type=click.IntRange(1, MOST_CHORUSES), help="Times through the form.")
@click.option("--soundfont", type=PATH, metavar="FILE", help="SoundFont (.sf2) to sound with.")
@click.option("--seed", type=int, default=0, show_default=True, help="Seed of what varies.")
@click.option("--melody", is_flag=True, help="Add the tune's melody as a guide track.")
@options(REPLACE, MANIFEST)
def practice(tune: Path, out: Path, tempo: float | None, as_json: bool, **rest: Any) -> int:
    """Make one .html file of TUNE that plays, shows and waits: open it in any browser.

    It works offline, from a folder, a stick or an e-mail: nothing is installed, fetched or sent.
    With several positions or keys the page switches between them.
    """
    from accomp.cli.progress import progress
    from accomp.cli.saying import say, say_json, tell_notes
    from accomp.job.manifest import FileKind
    from accomp.job.outside import make_alone
    from accomp.tune import read_tune

    tempos = () if tempo is None else (tempo,)
    wanted = Options(tempos=tempos, only=("page",), **rest)
    read = read_tune(tune)
    with progress("Making", shown=sys.stderr.isatty() and not as_json) as report:
        made = make_alone(FileKind.PAGE, read, wanted, out, report)
    if as_json:
        say_json(made)
        return 0
    tell_notes(made.notices)
    for file in made.files:
        say(f"{out / file.path}: open it in a browser. Start quietly.")
    return 0
