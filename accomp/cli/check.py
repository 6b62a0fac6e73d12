"""`accomp check`: every error of every file, each with its place."""

from __future__ import annotations

from pathlib import Path

import click

from accomp.cli.options import PATH


@click.command(short_help="Check tunes, styles, books and other files: all errors at once.")
@click.argument("files", nargs=-1, required=True, metavar="FILE...", type=PATH)
@click.option("--json", "as_json", is_flag=True, help="Print the problems as JSON, nothing else.")
def check(files: tuple[Path, ...], as_json: bool) -> int:
    """Read each FILE as what it is and report everything that is wrong in it."""
    from accomp.cli.problems import problem_table, problem_text
    from accomp.cli.saying import say_done, say_json, tell
    from accomp.cli.usual import is_usual, usual_problems
    from accomp.files.text import counted
    from accomp.job.check import problems_in

    problems = list(
        dict.fromkeys(
            one
            for path in files
            for one in (usual_problems(path) if is_usual(path) else problems_in(path))
        )
    )
    if as_json:
        say_json(problem_table(problems))
    else:
        for problem in problems:
            tell(problem_text(problem))
        if not problems:
            say_done(f"{counted(len(files), 'file')} {'is' if len(files) == 1 else 'are'} good.")
    return 1 if problems else 0
