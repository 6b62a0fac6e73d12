"""`accomp new`: a first version of each kind of file that a user writes.

Conventions: for kinds that the program has as data files, one is copied with its head comment,
which explains every key. The texts of the other kinds are here.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal, get_args

import click

from accomp.cli.options import PATH, REPLACE, options

if TYPE_CHECKING:
    from accomp.files.data import Thing

Begun = Literal["tune", "style", "instrument", "hand", "costs", "repertoire", "book", "config"]
KINDS: tuple[Begun, ...] = get_args(Begun)

# Kinds of file that can begin as a copy of one that the user names.
_LIKE: tuple[Begun, ...] = ("style", "instrument", "hand", "repertoire")

_TUNE = """\
# A tune: its chords between bar lines. `accomp check FILE` tells every mistake with its place.

title  = "{title}"
key    = "C"               # "Bb", "F#", "Dm" ...
meter  = "4/4"             # 2/2 3/2 2/4 3/4 4/4 5/4 6/4 3/8 6/8 9/8 12/8
tempo  = 120               # beats a minute
# style      = "two-beat"      # see `accomp styles`; without one a plain style is played
# instrument = "tenor-banjo"   # see `accomp instruments`
# composer   = "..."
form   = ["A", "B"]        # the sections in the order played

[sections]
A = \"\"\"
| C | C7  | F      | F |
| C | Am7 | D7 / G7 / | C |
\"\"\"
B = \"\"\"
| E7 | A7 | D7 | G7 |
\"\"\"
"""

_BOOK = """\
# A band book: lies as book.toml beside the tunes. Every line may go.

title   = "{title}"
paper   = "a4"                      # a4 or letter
# boxes   = "top"                   # chord boxes: top, changes or none
# part    = "both"                  # the strummed part: both, notation, tab or slash
# pages   = ["chart", "part"]       # what of each tune is in it: chart, part, lesson
players = ["own", "Bb", "bass"]     # own: the strummed part; an instrument, concert, Bb, Eb, bass
# order = ["first-tune", "second-tune"]   # names of tune files, without .toml

# [keys]
# first-tune = ["F", "Bb"]
"""


@click.command(short_help="Write a file to begin with: a tune, a style, an instrument ...")
@click.argument("kind", type=click.Choice(KINDS))
@click.argument("file", required=False, type=PATH)
@click.option(
    "--like",
    metavar="NAME",
    help="The style, instrument or hand to begin from; the instrument whose repertoire it is.",
)
@options(REPLACE)
def new(kind: Begun, file: Path | None, like: str | None, replace: bool) -> None:
    """Write a FILE of a KIND to begin with; default: KIND.toml here.

    A style, an instrument, a hand, a repertoire and a cost file begin as one that the program has.
    - writes to stdout.
    """
    from accomp.cli.usual import TEMPLATE, UserSettings
    from accomp.cli.writing import say_written, write_text
    from accomp.files.text import one_line, word_list

    if like is not None and kind not in _LIKE:
        raise click.UsageError(f"--like is for {word_list(_LIKE)}, and this is a {kind}.")
    # `Usual()` has the path without reading the file, which may be wrong and about to be replaced.
    path = file or (UserSettings().file if kind == "config" else Path(f"{kind}.toml"))
    match kind:
        case "tune" | "book":
            title = one_line(path.stem).replace("-", " ").replace("_", " ").title()
            title = title.strip() or "A New Tune"
            text = {"tune": _TUNE, "book": _BOOK}[kind].replace("{title}", _inside_quotes(title))
        case "config":
            text = TEMPLATE
        case _:
            text = _begun(kind, like)
    write_text(path, text, replace=replace)
    say_written(path)


def copy_of(kind: Thing, name: str) -> str:
    """The text of a data file by kind and name. Raises `InputError` when there is none."""
    from accomp.files import data
    from accomp.files.toml import read_toml

    thing = f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"
    return read_toml(data.look_up(data.FOLDERS[kind], name, thing)).text


def _begun(kind: Literal[Thing, "costs", "repertoire"], like: str | None) -> str:
    from accomp.files.data import package_file
    from accomp.job.named import find_player
    from accomp.job.options import Options

    if kind == "costs":
        return package_file("costs.toml").read_text(encoding="utf-8")
    if kind == "repertoire":
        return find_player(Options(instrument=like)).repertoire.text()
    first: dict[Thing, str] = {
        "style": "four-light-heavy",
        "instrument": "tenor-banjo",
        "hand": "medium",
    }
    return copy_of(kind, like or first[kind])


def _inside_quotes(text: str) -> str:
    from accomp.files.toml import quoted

    return quoted(text)[1:-1]
