"""`accomp book`: a band book, one PDF a player."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from accomp.job.book import MadeBook
    from accomp.job.book_read import BookPlan

_PATH = click.Path(path_type=Path)


@click.command(short_help="Make a band book: many tunes, one PDF a player.")
@click.argument("folder", metavar="FOLDER", type=_PATH)
@click.option(
    "--out", type=_PATH, metavar="DIR", help="Folder to make; default: named by the book."
)
@click.option(
    "--player",
    "players",
    multiple=True,
    help="Whose PDF: own (the strummed part), an instrument, concert, Bb, Eb or bass; repeatable.",
)
@click.option("--paper", type=click.Choice(["a4", "letter"]), help="Paper to print on.")
@click.option(
    "--jobs",
    type=click.IntRange(1, 64),
    default=1,
    show_default=True,
    help="Processes that work at once.",
)
@click.option("--again", is_flag=True, help="Make everything anew, whatever is there already.")
@click.option("--json", "as_json", is_flag=True, help="Print the manifest and nothing else.")
def book(
    folder: Path,
    out: Path | None,
    players: tuple[str, ...],
    paper: str | None,
    jobs: int,
    again: bool,
    as_json: bool,
) -> int:
    """Make a band book of all tunes in FOLDER: cover, contents, the tunes, an index.

    A file book.toml in the folder may say title, paper, players, pages, order and keys. A stopped
    run goes on where it was, and only what has changed is made again.
    """
    from dataclasses import replace

    from accomp.cli import printable
    from accomp.job.book_read import read_book, with_players
    from accomp.tune import slug

    plan = read_book(folder)
    if players:
        plan = with_players(plan, players)
    if paper:
        plan = replace(plan, paper=paper)
    target = out or Path(slug(plan.title))
    made = _made(plan, target, jobs, again, tell=sys.stderr.isatty() and not as_json)
    if as_json:
        click.echo(made.manifest.json().decode(), nl=False)
    else:
        click.echo(f"{plan.title}: {made.tunes} tunes, {len(made.manifest.files)} PDFs in {target}")
        for file in made.manifest.files:
            click.echo(f"  {target / file.path}")
        for notice in made.manifest.notices:
            click.echo(printable(f"Note: {notice}"), err=True)
    for problem in made.problems:
        click.echo(printable(str(problem)), err=True)
    if made.problems:
        click.echo(printable("The tunes with these errors are not in the book."), err=True)
    return 1 if made.problems else 0


def _made(plan: BookPlan, target: Path, jobs: int, again: bool, *, tell: bool) -> MadeBook:
    from accomp.job.book import make_book

    if not tell:
        return make_book(plan, target, jobs=jobs, again=again)
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("Engraving", total=1.0)
        return make_book(
            plan,
            target,
            jobs=jobs,
            again=again,
            progress=lambda what, share: bar.update(task, completed=share, description=what),
        )
