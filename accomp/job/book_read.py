"""The content of a band book: the tunes of a folder, and the settings of its book.toml.

Conventions: tunes are the .toml files of the folder itself, named without the ending; other data
files may be beside them. Players are "own" (the strummed part, on each tune's own instrument), the
name of an instrument (the strummed part on that one), or a reader: "concert", "Bb", "Eb", "bass".
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from accomp.errors import InputError, Problem, problems_of, reason
from accomp.files import values
from accomp.files.kinds import BOOK_FILE, kind_of
from accomp.files.table import Table
from accomp.files.toml import ENDING, Document, read_toml
from accomp.files.values import did_you_mean
from accomp.neck import instrument_names
from accomp.score.readers import PLAYER_PARTS, READERS, AskedPart
from accomp.tune import Tune, read_tune
from accomp.tune.fields import KEY
from accomp.write.formats import BOXES, PAGES, PAPERS, BoxLayout, PageKind, Paper

OWN = "own"
PLAYERS = (OWN, *READERS)


@dataclass(frozen=True)
class BookTune:
    """A tune of the book: its name in the folder, its file, the tune, and the keys asked for."""

    name: str
    path: Path
    tune: Tune
    keys: tuple[str, ...] = ()


@dataclass(frozen=True)
class WholeBook:
    """A whole book.

    `problems` are those of tunes that cannot be in it. `pages` is None for the usual pages. `part`
    is how the strummed part is written, `boxes` where its chord boxes are.
    """

    title: str
    paper: Paper
    players: tuple[str, ...]
    pages: tuple[PageKind, ...] | None
    tunes: tuple[BookTune, ...]
    boxes: BoxLayout = "top"
    part: AskedPart = "both"
    problems: tuple[Problem, ...] = ()
    notices: tuple[str, ...] = ()


@dataclass(frozen=True)
class BookFile:
    """The settings of book.toml; `order` and `keys` name tune files without .toml."""

    title: str = ""
    paper: Paper | None = None
    boxes: BoxLayout = "top"
    part: AskedPart = "both"
    players: tuple[str, ...] = PLAYERS
    pages: tuple[PageKind, ...] | None = None
    order: tuple[str, ...] | None = None
    keys: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


def read_book(folder: Path, paper: Paper | None = None) -> WholeBook:
    """Read a folder of tunes as a book; `paper` is used when book.toml names none.

    Raises `InputError` when there is no tune to print, and for problems in book.toml itself. A tune
    that cannot be read, or that book.toml names and that is missing, is one of the book's
    `problems`.
    """
    file = BookFile()
    missing: tuple[Problem, ...] = ()
    if (folder / BOOK_FILE).is_file():
        file, wrong, missing = read_book_file(read_toml(folder / BOOK_FILE))
        if wrong:
            raise InputError(wrong)
    tunes: dict[str, BookTune] = {}
    problems: list[Problem] = []
    for name, path in tune_files(folder, file.order).items():
        try:
            tunes[name] = BookTune(name, path, read_tune(path), file.keys.get(name, ()))
        except Exception as error:  # any error of one tune must not stop the others
            problems += problems_of(error, path)
    problems += missing
    if not tunes and not problems:
        raise InputError(_no_tunes(folder))
    if file.order is not None:
        chosen = [tunes[name] for name in file.order if name in tunes]
    else:
        chosen = sorted(tunes.values(), key=lambda one: (one.tune.title.casefold(), one.name))
    return WholeBook(
        title=file.title or folder.resolve().name,
        paper=file.paper or paper or "a4",
        boxes=file.boxes,
        part=file.part,
        players=file.players,
        pages=file.pages,
        tunes=tuple(chosen),
        problems=tuple(problems),
        notices=_same_titles(chosen),
    )


def with_players(band_book: WholeBook, players: Sequence[str]) -> WholeBook:
    """The same book for other players. Raises `InputError` for a name that is no player's."""
    known = (*PLAYERS, *instrument_names())
    problems = []
    for name in players:
        if name not in known:
            hint = did_you_mean(name, known) or f"Choose from {', '.join(known)}."
            problems.append(
                Problem(f"{name!r} is no player.", found=name, hint=hint, setting="players")
            )
    if problems:
        raise InputError(problems)
    return replace(band_book, players=tuple(dict.fromkeys(players)))


def tune_files(folder: Path, order: Sequence[str] | None = None) -> dict[str, Path]:
    """The tune files of the folder by their names; with an `order`, only those that it names.

    Raises `InputError` when the folder cannot be read.
    """
    paths = _toml_files(folder)
    if order is not None:
        return {name: path for name, path in paths.items() if name in order}
    return {name: path for name, path in paths.items() if _may_be_a_tune(path)}


def tunes_of(folder: Path) -> tuple[Path, ...]:
    """The tune files of a folder by their names. Raises `InputError` when it has none."""
    found = tuple(tune_files(folder).values())
    if not found:
        raise InputError(_no_tunes(folder))
    return found


def _no_tunes(folder: Path) -> Problem:
    return Problem(
        "there is no tune file (.toml) in this folder.",
        str(folder),
        expected="tune files",
        hint="README.md shows one.",
        helps=("read_a_leadsheet",),
    )


def _may_be_a_tune(path: Path) -> bool:
    """Whether a file is a tune, or of an unknown kind."""
    try:
        return kind_of(read_toml(path)) in {"tune", None}
    except InputError:
        return True


def _toml_files(folder: Path) -> dict[str, Path]:
    try:
        found = sorted(folder.iterdir())
    except OSError as error:
        hint = "Name a folder that holds tune files."
        raise InputError(Problem(f"{reason(error)}.", str(folder), hint=hint)) from None
    return {path.stem: path for path in found if path.suffix == ENDING and path.name != BOOK_FILE}


def _same_titles(tunes: Sequence[BookTune]) -> tuple[str, ...]:
    names: dict[str, list[str]] = {}
    for one in tunes:
        names.setdefault(one.tune.title, []).append(one.path.name)
    return tuple(
        f"{' and '.join(files)} have the same title, {title!r}; both are in the book."
        for title, files in names.items()
        if len(files) > 1
    )


def read_book_file(
    document: Document,
) -> tuple[BookFile, tuple[Problem, ...], tuple[Problem, ...]]:
    """The settings of a book.toml, its problems, and the problems of tunes it names in vain."""
    top = Table.of(document)
    players = values.word((*PLAYERS, *instrument_names()), "own, a reader or an instrument")
    order = [_stem(name) for name in top.several("order", _TUNE, ())]
    keys = top.table("keys")
    file = BookFile(
        title=top.text("title", ""),
        paper=top.get("paper", values.word(PAPERS), None),
        boxes=top.word("boxes", BOXES, "top"),
        part=top.word("part", PLAYER_PARTS, "both"),
        players=tuple(dict.fromkeys(top.several("players", players, PLAYERS))),
        pages=tuple(dict.fromkeys(top.several("pages", values.word(PAGES), ()))) or None,
        order=tuple(dict.fromkeys(order)) or None,
        keys={_stem(name): _keys(keys, name) for name in keys.named()} if keys else {},
    )
    wrong = top.close().problems
    missing = Table.of(document)
    paths = _toml_files(Path(document.file).parent)
    for at, name in enumerate(order):
        _look_for(missing, paths, name, "order", at)
    for name in keys.data if keys else ():
        _look_for(missing, paths, _stem(name), "keys", name, at="key")
    return file, wrong, missing.findings.problems


def _keys(table: Table, name: str) -> tuple[str, ...]:
    """The keys asked for of a tune, written as one text or as a list."""
    if isinstance(table.data[name], str):
        return (table.get(name, _KEY, "all"),)
    return table.several(name, _KEY)


def _key(text: str) -> str:
    return text if text == "all" else str(KEY.take(text))


_TUNE = values.text(example="harbour-street")
_KEY = values.parsed(_key, f'{KEY.expected}, or "all"', "F")


def _stem(name: str) -> str:
    return name.removesuffix(ENDING)


def _look_for(
    top: Table,
    paths: Mapping[str, Path],
    name: str,
    *path: str | int,
    at: Literal["key"] | None = None,
) -> None:
    """Note a problem if a tune is missing."""
    if name not in paths:
        top.wrong(
            f"there is no tune {name!r} in this folder.",
            *path,
            at=at,
            found=name,
            expected="the name of a tune file",
            hint=did_you_mean(name, paths) or f"Put {name}{ENDING} into the folder.",
        )
