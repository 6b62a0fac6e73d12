"""`accomp styles` and `accomp instruments`: the list of all, or one in detail."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from accomp.cli import words
from accomp.cli.options import PATH, REPLACE, options
from accomp.errors import InputError

if TYPE_CHECKING:
    from accomp.files.data import Thing

T = TypeVar("T")

_WRITE = (
    click.option(
        "--write", type=PATH, metavar="FILE", help="Write the one named to a file, to be edited."
    ),
)


@click.command(short_help="List the styles, or show one in detail.")
@click.argument("name", required=False, shell_complete=words.STYLES)
@options(_WRITE, REPLACE)
@click.option("--json", "as_json", is_flag=True, help="Print JSON, nothing else.")
def styles(name: str | None, write: Path | None, replace: bool, as_json: bool) -> None:
    """List all styles by meter, or show the style NAME: its count with the strokes under it."""
    from accomp.cli.saying import say, say_json, say_table
    from accomp.job.documents import style_row
    from accomp.job.named import style_named
    from accomp.rhythm import describe_style, style_names

    if write is not None:
        _copy("style", name, write, replace=replace)
        return
    found = _readable(style_named, (name,) if name else style_names())
    if as_json:
        rows = [style_row(style) for style in found]
        say_json(rows[0] if name else rows)
    elif name:
        say("\n".join(describe_style(found[0])))
    else:
        found.sort(key=lambda style: (style.meter.unit, style.meter.count, style.name))
        say_table(
            ("style", "meter", "tempo", "title"),
            [(s.name, str(s.meter), f"{s.tempo[0]:g}-{s.tempo[1]:g}", s.title) for s in found],
        )


@click.command(short_help="List the instruments, or show one in detail.")
@click.argument("name", required=False, shell_complete=words.INSTRUMENTS)
@options(_WRITE, REPLACE)
@click.option("--json", "as_json", is_flag=True, help="Print JSON, nothing else.")
def instruments(name: str | None, write: Path | None, replace: bool, as_json: bool) -> None:
    """List all instruments, or show the instrument NAME."""
    from accomp.cli.saying import say, say_json, say_table, tell_notes
    from accomp.job.documents import instrument_row
    from accomp.job.named import instrument_named
    from accomp.neck import instrument_names
    from accomp.neck.instrument import written_at

    if write is not None:
        _copy("instrument", name, write, replace=replace)
        return
    found = _readable(instrument_named, (name,) if name else instrument_names())
    if as_json:
        rows = [instrument_row(each) for each in found]
        say_json(rows[0] if name else rows)
        return
    say_table(
        ("instrument", "strings", "frets", "scale", "title"),
        [
            (i.name, " ".join(map(str, i.strings)), str(i.frets), f"{i.scale_mm:g} mm", i.title)
            for i in found
        ],
    )
    if name:
        each = found[0]
        strings = "single strings" if each.courses == 1 else f"courses of {each.courses} strings"
        say(f"{strings}, written {written_at(each.octave)}, General MIDI program {each.program}")
        tell_notes(each.notices)


def _readable(read: Callable[[str], T], names: Sequence[str]) -> list[T]:
    """The styles or instruments of several names. A damaged file is reported and left out.

    Raises `InputError` if it is the only one asked for.
    """
    from accomp.cli.problems import error_text
    from accomp.cli.saying import tell

    found = []
    for name in names:
        try:
            found.append(read(name))
        except InputError as error:
            if len(names) == 1:
                raise
            tell(error_text(error))
    return found


def _copy(kind: Thing, name: str | None, path: Path, *, replace: bool) -> None:
    """Copy the data file of a name to the user's `path`."""
    from accomp.cli.new import copy_of
    from accomp.cli.writing import say_written, write_text

    if name is None:
        raise click.UsageError(f"Name the {kind} that is to be written.")
    write_text(path, copy_of(kind, name), replace=replace)
    say_written(path)
