"""What a band book is to hold: the tunes of a folder, and what its book.toml says.

Conventions: tunes are the folder's own .toml files, by their names without the ending; other data
files may lie beside them. Players are "own" (the strummed part, each tune's own instrument), the
name of an instrument (the strummed part on that one), or a reader: "concert", "Bb", "Eb", "bass".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from accomp.errors import AccompError, InputError, Problem
from accomp.files.kinds import kind_of
from accomp.files.toml import Document, nearest, read_toml, unknown_keys
from accomp.neck import instrument_names
from accomp.score.readers import READERS
from accomp.tune import Tune, read_tune
from accomp.write.formats import PAGES, PAPERS

NAME = "book.toml"
OWN = "own"
PLAYERS = (OWN, *READERS)
_KNOWN = ("title", "paper", "players", "pages", "order", "keys")


@dataclass(frozen=True)
class BookTune:
    """A tune of the book: its name in the folder, the tune, the keys it is wanted in."""

    name: str
    path: Path
    tune: Tune
    keys: tuple[str, ...] = ()


@dataclass(frozen=True)
class BookPlan:
    """A whole book. `problems` are the tunes that cannot be in it; `pages` None: the usual ones."""

    title: str
    paper: str
    players: tuple[str, ...]
    pages: tuple[str, ...] | None
    tunes: tuple[BookTune, ...]
    problems: tuple[Problem, ...] = ()
    notices: tuple[str, ...] = ()


@dataclass
class _Asked:
    """What book.toml says, with everything wrong in it."""

    title: str = ""
    paper: str = "a4"
    players: tuple[str, ...] = PLAYERS
    pages: tuple[str, ...] | None = None
    order: tuple[str, ...] | None = None
    keys: dict[str, tuple[str, ...]] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)


def read_book(folder: Path) -> BookPlan:
    """Read a folder of tunes.

    Raises `InputError` when there is no tune to print, or for what is wrong in book.toml itself; a
    tune that cannot be read, or that book.toml names and that is not there, is a problem of the
    plan.
    """
    paths = {path.stem: path for path in _toml_files(folder)}
    document = read_toml(folder / NAME) if (folder / NAME).is_file() else None
    asked = _Asked() if document is None else _asked(document)
    if asked.problems:
        raise InputError(asked.problems)
    tunes: dict[str, BookTune] = {}
    problems: list[Problem] = []
    for name, path in paths.items():
        if asked.order is not None and name not in asked.order:
            continue
        try:
            if asked.order is None and kind_of(read_toml(path)) not in {"tune", None}:
                continue
            tunes[name] = BookTune(name, path, read_tune(path), asked.keys.get(name, ()))
        except InputError as error:
            problems += error.problems
        except AccompError as error:
            problems.append(Problem(str(error), str(path)))
    if document is not None:
        problems += _missing(document, asked, paths)
    if not tunes and not problems:
        raise InputError(
            Problem(
                "there is no tune file (.toml) in this folder.",
                str(folder),
                expected="tune files",
                hint="README.md shows one; `accomp read` makes one from a lead sheet.",
            )
        )
    if asked.order is not None:
        chosen = [tunes[name] for name in asked.order if name in tunes]
    else:
        chosen = sorted(tunes.values(), key=lambda one: (one.tune.title.casefold(), one.name))
    return BookPlan(
        title=asked.title or folder.resolve().name,
        paper=asked.paper,
        players=asked.players,
        pages=asked.pages,
        tunes=tuple(chosen),
        problems=tuple(problems),
        notices=_same_titles(chosen),
    )


def with_players(plan: BookPlan, players: Sequence[str]) -> BookPlan:
    """The same book for other players. Raises `InputError` for a name that is none."""
    known = (*PLAYERS, *instrument_names())
    problems = []
    for name in players:
        if name not in known:
            close = nearest(name, known)
            hint = f"Did you mean {close!r}?" if close else f"Choose from {', '.join(known)}."
            problems.append(Problem(f"{name!r} is no player.", "--player", found=name, hint=hint))
    if problems:
        raise InputError(problems)
    return replace(plan, players=tuple(dict.fromkeys(players)))


def _toml_files(folder: Path) -> list[Path]:
    """The .toml files of the folder, by name. Raises `InputError` when it cannot be read."""
    try:
        found = sorted(folder.iterdir())
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        hint = "Name a folder that holds tune files."
        raise InputError(Problem(f"{reason}.", str(folder), hint=hint)) from None
    return [path for path in found if path.suffix == ".toml" and path.name != NAME]


def _same_titles(tunes: Sequence[BookTune]) -> tuple[str, ...]:
    names: dict[str, list[str]] = {}
    for one in tunes:
        names.setdefault(one.tune.title, []).append(one.path.name)
    return tuple(
        f"{' and '.join(files)} have the same title, {title!r}; both are in the book."
        for title, files in names.items()
        if len(files) > 1
    )


def _asked(document: Document) -> _Asked:
    asked = _Asked()
    asked.problems += unknown_keys(document, (), _KNOWN)
    data = document.data
    if "title" in data:
        asked.title = _text(document, "title", asked)
    if "paper" in data:
        asked.paper = _choice(document, "paper", tuple(PAPERS), asked)
    if "players" in data:
        names = _names(document, "players", (*PLAYERS, *instrument_names()), asked)
        asked.players = names or PLAYERS
    if "pages" in data:
        asked.pages = _names(document, "pages", PAGES, asked)
    if "order" in data:
        names = _names(document, "order", None, asked)
        asked.order = tuple(dict.fromkeys(name.removesuffix(".toml") for name in names))
    if "keys" in data:
        asked.keys = _keys(document, asked)
    return asked


def _text(document: Document, key: str, asked: _Asked) -> str:
    value = document.data[key]
    if isinstance(value, str):
        return value
    asked.problems.append(_wrong(document, (key,), value, "a text in quotes"))
    return ""


def _choice(document: Document, key: str, known: tuple[str, ...], asked: _Asked) -> str:
    value = document.data[key]
    if value in known:
        return str(value)
    asked.problems.append(_wrong(document, (key,), value, " or ".join(f'"{one}"' for one in known)))
    return known[0]


def _names(
    document: Document, key: str, known: tuple[str, ...] | None, asked: _Asked
) -> tuple[str, ...]:
    """A list of names, each among `known` when that is given."""
    value = document.data[key]
    if not isinstance(value, list) or not value:
        asked.problems.append(_wrong(document, (key,), value, "a list of names"))
        return ()
    for place, name in enumerate(value):
        if not isinstance(name, str):
            asked.problems.append(_wrong(document, (key, place), name, "a name in quotes"))
        elif known is not None and name not in known:
            asked.problems.append(_unknown(document, (key, place), name, known))
    return tuple(dict.fromkeys(name for name in value if isinstance(name, str)))


def _keys(document: Document, asked: _Asked) -> dict[str, tuple[str, ...]]:
    table = document.data["keys"]
    if not isinstance(table, dict):
        asked.problems.append(_wrong(document, ("keys",), table, "a table of tunes"))
        return {}
    keys: dict[str, tuple[str, ...]] = {}
    for name, value in table.items():
        wanted = value if isinstance(value, list) else [value]
        if not wanted or not all(isinstance(key, str) for key in wanted):
            asked.problems.append(_wrong(document, ("keys", name), value, 'keys as ["F", "Bb"]'))
            continue
        keys[name.removesuffix(".toml")] = tuple(wanted)
    return keys


def _missing(document: Document, asked: _Asked, paths: dict[str, Path]) -> list[Problem]:
    """Tunes that book.toml names and the folder does not have."""
    places: list[tuple[tuple[str | int, ...], str]] = []
    for place, name in enumerate(document.data.get("order", ())):
        places.append((("order", place), str(name)))
    places += [(("keys", name), name) for name in document.data.get("keys", ())]
    problems = []
    for where, name in places:
        if name.removesuffix(".toml") in paths:
            continue
        close = nearest(name.removesuffix(".toml"), paths)
        hint = f"Did you mean {close!r}?" if close else f"Put {name}.toml into the folder."
        problems.append(
            document.problem(
                f"there is no tune {name!r} in this folder.",
                *where,
                key=where[0] == "keys",
                found=name,
                expected="the name of a tune file",
                hint=hint,
            )
        )
    return problems


def _wrong(document: Document, path: tuple[str | int, ...], value: Any, expected: str) -> Problem:
    return document.problem(
        f"{path[0]}: expected {expected}.", *path, found=str(value), expected=expected
    )


def _unknown(
    document: Document, path: tuple[str | int, ...], name: str, known: tuple[str, ...]
) -> Problem:
    close = nearest(name, known)
    listed = ", ".join(known)
    return document.problem(
        f"{path[0]}: {name!r} is not known.",
        *path,
        found=name,
        expected=f"one of {listed}",
        hint=f"Did you mean {close!r}?" if close else f"Choose from {listed}.",
    )
