"""All problems of a data file of any kind.

Conventions: problems are in the order of the file, followed by those of other files that it names
(a style beside the tune, the tunes of a book). Nothing is made.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from accomp.errors import AccompError, InputError, Problem
from accomp.files.kinds import Kind, kind_of
from accomp.files.toml import Document, read_toml
from accomp.job.book_read import read_book_file, tune_files
from accomp.job.named import instrument_named, style_named
from accomp.job.options import Options
from accomp.job.request import Request, resolve
from accomp.job.versions import in_key
from accomp.neck import read_instrument, read_repertoire, read_weights
from accomp.neck.hand import read_hand
from accomp.rhythm import read_style
from accomp.tune import Tune
from accomp.tune.read import Draft, draft_of
from accomp.voice.reader import read_voice

_READERS: dict[Kind, Callable[[Path], object]] = {
    "style": read_style,
    "instrument": read_instrument,
    "hand": read_hand,
    "costs": read_weights,
    "repertoire": read_repertoire,
    "voice": read_voice,
}


def problems_in(path: Path) -> tuple[Problem, ...]:
    """All problems of one file."""
    try:
        document = read_toml(path)
        kind = kind_of(document)
        if kind is None:
            return (_no_kind(document),)
        if kind == "tune":
            return tune_problems(document, path)
        if kind == "book":
            return _book_problems(document, path)
        _READERS[kind](path)
    except AccompError as error:
        return error.problems_in(str(path))
    return ()


def _no_kind(document: Document) -> Problem:
    return Problem(
        "this is no tune, style, instrument, repertoire, hand, cost, book, config or voice file.",
        document.file,
        1,
        1,
        expected="a tune has [sections], a style [strum], an instrument `strings`",
        hint="README.md shows each kind of file.",
    )


def tune_problems(
    document: Document, path: Path, keys: Sequence[str] = (), *, planned: bool = True
) -> tuple[Problem, ...]:
    """All problems of a tune file and of the things that it names.

    `planned` also checks whether the tune can be played in `keys`, which is slow.
    """
    draft = draft_of(document, path.parent)
    problems = [*draft.problems, *_names(draft, path)]
    options = Options(keys=tuple(keys), melody=draft.tune.melody is not None)
    request = None
    try:
        request = resolve(draft.tune, options)
    except InputError as error:
        problems += error.problems
    if planned and draft.clear:
        # The left hand can be checked even if styles or melody are wrong.
        with contextlib.suppress(InputError):
            request = request or resolve(
                _without_styles(draft.tune), replace(options, melody=False)
            )
    if planned and draft.clear and request is not None:
        problems += _unplayable(request, path)
    return _in_order(problems, document)


def _without_styles(tune: Tune) -> Tune:
    return replace(
        tune,
        style=None,
        sections={name: replace(one, style=None) for name, one in tune.sections.items()},
        choruses=tuple(replace(one, style=None) for one in tune.choruses),
        begin=None,
    )


def _unplayable(request: Request, path: Path) -> list[Problem]:
    """Problems of playing a right file, in each of the keys asked for."""
    problems: list[Problem] = []
    for key in request.keys:
        try:
            in_key(request, key)
        except AccompError as error:
            problems += error.problems_in(str(path))
    return problems


def _names(draft: Draft, path: Path) -> list[Problem]:
    """Problems of the styles and the instrument that a tune names, used or not."""
    problems: list[Problem] = []
    for where, name in draft.named.items():
        try:
            (instrument_named if where == "instrument" else style_named)(name, path)
        except InputError as error:
            line, column = draft.tune.places[where]
            problems += [
                one if one.line else replace(one, file=draft.tune.file, line=line, column=column)
                for one in error.problems
            ]
    return problems


def _book_problems(document: Document, path: Path) -> tuple[Problem, ...]:
    """All problems of a book.toml and of its tunes."""
    file, wrong, missing = read_book_file(document)
    problems = [*wrong, *missing]
    for name, tune in tune_files(path.parent, file.order).items():
        try:
            found = tune_problems(read_toml(tune), tune, file.keys.get(name, ()))
        except AccompError as error:
            found = error.problems_in(str(tune))
        line, column = document.place("keys", name)
        problems += [
            replace(one, file=document.file, line=line, column=column, setting="")
            if one.setting == "keys"
            else one
            for one in found
        ]
    return _in_order(problems, document)


def _in_order(problems: Iterable[Problem], document: Document) -> tuple[Problem, ...]:
    """Each problem once, those of the document first."""
    return tuple(
        sorted(
            dict.fromkeys(problems),
            key=lambda one: (one.file != document.file, one.file, one.line, one.column),
        )
    )
