"""Tasks that answer with the documents that the command line prints as JSON.

Conventions: as in `accomp.web.desk.tasks`, but a problem is raised as `InputError`.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from accomp.errors import InputError, Problem
from accomp.files import data
from accomp.files.data import DataKind
from accomp.files.toml import parse_toml, read_toml
from accomp.harmony import parse_chord
from accomp.job import documents
from accomp.job.check import tune_problems
from accomp.job.named import find_player, instrument_named, style_named
from accomp.job.positions import in_its_place
from accomp.neck import chord_shapes
from accomp.neck.player import EVERY
from accomp.web.desk.asked import options_of
from accomp.web.desk.problems import problem_rows
from accomp.web.desk.processes import Tell
from accomp.web.desk.tasks import Json, on_the_neck


def check(asked: Json, tell: Tell) -> list[Json]:
    """`accomp check`: all problems of a tune's text, also whether it can be played."""
    path = Path(asked["file"])
    try:
        document = parse_toml(asked["text"], str(path))
    except InputError as error:
        return problem_rows(error.problems)
    return problem_rows(tune_problems(document, path))


def positions(asked: Json, tell: Tell) -> Json:
    """`accomp positions`."""
    neck = on_the_neck(asked)
    with in_its_place(neck):
        plans = neck.asked_for()
    return documents.positions_document(neck.tune, neck, plans, documents.neck_notices(neck))


def keys(asked: Json, tell: Tell) -> Json:
    """`accomp keys`."""
    neck = on_the_neck(asked)
    rows = neck.neck.keys(neck.tune.key, neck.wish)
    return documents.keys_document(neck.tune, neck, rows, documents.neck_notices(neck))


def shapes(asked: Json, tell: Tell) -> Json:
    """`accomp shapes` of one chord."""
    options = options_of(asked.get("options", {}))
    player = find_player(options)
    chord = parse_chord(asked["chord"])
    grade = options.vocabulary or EVERY
    found = chord_shapes(player, chord, closed=options.closed is True, vocabulary=grade)
    return documents.shapes_document(found, player)


def styles(asked: Any, tell: Tell) -> Any:
    """`accomp styles`: all styles, or the one that is named."""
    return _listed("styles", asked, lambda name: documents.style_row(style_named(name)))


def style_text(asked: str, tell: Tell) -> Json:
    """The text of a style that comes with the program, as a start for one's own."""
    path = data.find("styles", asked)
    if path is None:
        raise InputError(Problem(f"there is no {asked!r} among the styles.", found=asked))
    return {"name": asked, "text": read_toml(path).text}


def instruments(asked: Any, tell: Tell) -> Any:
    """`accomp instruments`: all instruments, or the one that is named."""
    return _listed(
        "instruments", asked, lambda name: documents.instrument_row(instrument_named(name))
    )


def _row(row: Any, name: str) -> Any:
    """The row of one name; None for a damaged file of the user's, so that the others are listed."""
    try:
        return row(name)
    except InputError:
        return None


def _listed(kind: DataKind, name: str | None, row: Any) -> Any:
    known = data.names(kind)
    if name is None:
        return [found for each in known if (found := _row(row, each)) is not None]
    if name not in known:  # a name that ends in ".toml" would be a file
        raise InputError(Problem(f"there is no {name!r} among the {kind}.", found=name))
    return row(name)
