"""`accomp book`: a band book, one PDF a player."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click
from msgspec import to_builtins

from accomp.cli.options import MANIFEST, PAPER, PATH, REPLACE, RUN, options
from accomp.score.readers import PLAYER_PARTS
from accomp.write.formats import BOXES


@click.command(short_help="Make a band book: many tunes, one PDF a player.")
@click.argument("folder", metavar="FOLDER", type=PATH)
@click.option(
    "--out", "-o", type=PATH, metavar="DIR", help="Folder to make; default: named by the book."
)
@click.option(
    "--player",
    "players",
    multiple=True,
    help="Whose PDF: own (the strummed part), an instrument, concert, Bb, Eb or bass; repeatable.",
)
@options(PAPER)
@click.option(
    "--boxes",
    type=click.Choice(BOXES),
    help="Chord boxes on parts: once at the top, over the changes, or none.",
)
@click.option("--part", type=click.Choice(PLAYER_PARTS), help="How the strummed part is written.")
@options(RUN, REPLACE, MANIFEST)
def book(
    folder: Path,
    out: Path | None,
    players: tuple[str, ...],
    as_json: bool,
    **rest: Any,
) -> int:
    """Make a band book of all tunes in FOLDER: cover, contents, the tunes, an index.

    A file book.toml in the folder may say title, paper, boxes, part, players, pages, order and
    keys. A stopped run goes on where it was, and only what has changed is made again.
    """
    from dataclasses import replace

    from accomp.cli.problems import problem_table, problem_text
    from accomp.cli.progress import progress
    from accomp.cli.saying import say_done, say_json, tell, tell_notes
    from accomp.cli.usual import read_usual
    from accomp.cli.writing import only_a_folder
    from accomp.files.text import counted
    from accomp.job.book import make_book
    from accomp.job.book_read import read_book, with_players
    from accomp.tune import slug

    band_book = read_book(folder, read_usual().paper)
    if players:
        band_book = with_players(band_book, players)
    said = {name: rest.pop(name) for name in ("paper", "boxes", "part")}
    band_book = replace(band_book, **{name: word for name, word in said.items() if word})
    only_a_folder(out)
    target = out or _beside(folder, f"{slug(band_book.title)}-book")
    with progress("Engraving", shown=sys.stderr.isatty() and not as_json) as report:
        made = make_book(band_book, target, progress=report, **rest)
    if as_json:
        found = to_builtins(made.manifest)
        say_json({**found, "problems": problem_table(made.problems)} if made.problems else found)
    else:
        tunes, files = counted(made.tunes, "tune"), counted(len(made.manifest.files), "PDF")
        say_done(f"{band_book.title}: {tunes}, {files} in {target}")
        for file in made.manifest.files:
            say_done(f"  {target / file.path}")
        tell_notes(made.manifest.notices)
    for problem in made.problems:
        tell(problem_text(problem))
    if made.problems:
        tell("The tunes with these errors are not in the book.")
    return 1 if made.problems else 0


def _beside(folder: Path, name: str) -> Path:
    """A folder of that name in the current one; beside `folder` if the current one is inside it."""
    inside = folder.resolve() in (here := Path.cwd().resolve(), *here.parents)
    return folder.resolve().parent / name if inside else Path(name)
