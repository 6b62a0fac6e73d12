"""`accomp book`: a band book, one PDF a player."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from accomp.cli.options import MANIFEST, PATH, REPLACE, RUN, options
from accomp.write.formats import PAPERS


@click.command(short_help="Make a band book: many tunes, one PDF a player.")
@click.argument("folder", metavar="FOLDER", type=PATH)
@click.option("--out", type=PATH, metavar="DIR", help="Folder to make; default: named by the book.")
@click.option(
    "--player",
    "players",
    multiple=True,
    help="Whose PDF: own (the strummed part), an instrument, concert, Bb, Eb or bass; repeatable.",
)
@click.option("--paper", type=click.Choice(PAPERS), help="Paper to print on.")
@options(RUN, REPLACE, MANIFEST)
def book(
    folder: Path,
    out: Path | None,
    players: tuple[str, ...],
    paper: str | None,
    as_json: bool,
    **run: Any,
) -> int:
    """Make a band book of all tunes in FOLDER: cover, contents, the tunes, an index.

    A file book.toml in the folder may say title, paper, players, pages, order and keys. A stopped
    run goes on where it was, and only what has changed is made again.
    """
    from dataclasses import replace

    from accomp.cli import printable
    from accomp.cli.listing import echo_json, echo_notes, progress
    from accomp.cli.options import problem_text
    from accomp.job.book import make_book
    from accomp.job.book_read import read_book, with_players
    from accomp.tune import slug

    plan = read_book(folder)
    if players:
        plan = with_players(plan, players)
    if paper:
        plan = replace(plan, paper=paper)
    target = out or Path(slug(plan.title))
    with progress("Engraving", shown=sys.stderr.isatty() and not as_json) as tell:
        made = make_book(plan, target, progress=tell, **run)
    if as_json:
        echo_json(made.manifest)
    else:
        click.echo(f"{plan.title}: {made.tunes} tunes, {len(made.manifest.files)} PDFs in {target}")
        for file in made.manifest.files:
            click.echo(f"  {target / file.path}")
        echo_notes(made.manifest.notices)
    for problem in made.problems:
        click.echo(printable(problem_text(problem)), err=True)
    if made.problems:
        click.echo("The tunes with these errors are not in the book.", err=True)
    return 1 if made.problems else 0
