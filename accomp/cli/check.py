"""`accomp check`: every error of every file, each with its place."""

from __future__ import annotations

from pathlib import Path

import click

from accomp.errors import AccompError, InputError, Problem


@click.command(short_help="Check tune, style, instrument and other files: all errors at once.")
@click.argument(
    "files", nargs=-1, required=True, metavar="FILE...", type=click.Path(path_type=Path)
)
@click.option("--json", "as_json", is_flag=True, help="Print the problems as JSON, nothing else.")
def check(files: tuple[Path, ...], as_json: bool) -> int:
    """Read each FILE as what it is and report everything that is wrong in it."""
    from accomp.cli import printable

    problems = [problem for path in dict.fromkeys(files) for problem in _problems(path)]
    if as_json:
        import msgspec

        keys = ("file", "line", "column", "found", "expected", "hint", "message")
        rows = [{key: getattr(problem, key) for key in keys} for problem in problems]
        click.echo(msgspec.json.format(msgspec.json.encode(rows), indent=2))
    else:
        for problem in problems:
            click.echo(printable(str(problem)), err=True)
        if not problems:
            click.echo(f"{len(files)} {'file is' if len(files) == 1 else 'files are'} good.")
    return 1 if problems else 0


def _problems(path: Path) -> list[Problem]:
    """Everything wrong with one file."""
    from accomp.files.kinds import kind_of
    from accomp.files.toml import read_toml

    try:
        document = read_toml(path)
        kind = kind_of(document)
        if kind is None:
            return [
                Problem(
                    "this is no tune, style, instrument, repertoire, hand or cost file.",
                    document.file,
                    1,
                    1,
                    expected="a tune has [sections], a style [strum], an instrument `strings`",
                    hint="README.md shows each kind of file.",
                )
            ]
        if kind == "tune":
            from accomp.job.asked import understand
            from accomp.job.options import Options
            from accomp.tune import read_tune

            understand(read_tune(path), Options())
        elif kind == "style":
            from accomp.rhythm import read_style

            read_style(path)
        elif kind == "instrument":
            from accomp.neck import read_instrument

            read_instrument(path)
        elif kind == "hand":
            from accomp.neck.hand import read_hand

            read_hand(path)
        elif kind == "costs":
            from accomp.neck import read_weights

            read_weights(path)
        else:
            from accomp.neck import read_repertoire

            read_repertoire(path)
    except InputError as error:
        return list(error.problems)
    except AccompError as error:
        return [Problem(str(error), str(path))]
    return []
