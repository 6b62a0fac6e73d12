"""Make a band book: one PDF a player from a folder of tunes.

Conventions: tunes that fail are reported together and the rest of the book is made; nothing is
changed in the output folder before every PDF is whole. A stopped run is taken up where it was, and
tunes that have not changed are not engraved again.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from accomp.errors import InputError, NoShapeError, Problem
from accomp.job import book_cache
from accomp.job.asked import understand
from accomp.job.book_items import BookItem, PagesItem, problems_in
from accomp.job.book_read import OWN, BookPlan, BookTune
from accomp.job.items import Item, Label
from accomp.job.manifest import MadeFile, Manifest
from accomp.job.options import Options
from accomp.job.workshop import Done, Workshop, work_paths
from accomp.neck import find_instrument
from accomp.score.readers import READERS
from accomp.tune import slug

Progress = Callable[[str, float], None]
_READER_TITLES = {
    "concert": "Concert pitch",
    "Bb": "B♭ instruments",
    "Eb": "E♭ instruments",
    "bass": "Bass clef",
}
_ENGRAVING = 0.85  # of the whole work


@dataclass(frozen=True)
class MadeBook:
    """A finished book: its manifest, how many tunes are in it, and what kept others out."""

    manifest: Manifest
    tunes: int
    problems: tuple[Problem, ...]


def make_book(
    plan: BookPlan,
    folder: Path,
    *,
    jobs: int = 1,
    again: bool = False,
    progress: Progress | None = None,
) -> MadeBook:
    """Make the book of a plan in `folder`; with `again` even what is there and has not changed.

    Raises `InputError` with every problem when no tune is left, `OutputError` when the folder
    cannot be written.
    """
    tell = progress or (lambda what, share: None)
    problems = list(plan.problems)
    pages, names = _pages_items(plan, problems, again)
    if not pages:
        raise InputError(problems)
    with Workshop(folder, keep=True, again=again).opened() as workshop:
        workshop.make(pages, jobs, lambda what, share: tell(what, share * _ENGRAVING))
        notices = list(plan.notices)
        good: list[PagesItem] = []
        failed: set[str] = set()
        for item in pages:
            document = json.loads(_source(item, workshop.work).read_bytes())
            found = problems_in(document)
            problems += [problem for problem in found if problem not in problems]
            notices += [notice for notice in document["notices"] if notice not in notices]
            if found:
                failed.add(item.path.name)
            else:
                good.append(item)
        if not good:
            raise InputError(problems)
        books = _book_items(plan, good, workshop.work)
        records = workshop.make(
            books, jobs, lambda what, share: tell(what, _ENGRAVING + share * (1 - _ENGRAVING))
        )
        for record in records:
            notices += [notice for notice in record.said.notices if notice not in notices]
        manifest = _manifest(plan, books, records, notices)
        workshop.move(books, manifest.json())
    book_cache.tidy()
    return MadeBook(manifest, len(names - failed), tuple(problems))


def _pages_items(
    plan: BookPlan, problems: list[Problem], again: bool
) -> tuple[list[PagesItem], set[str]]:
    """One item for each tune and key that can be understood, and the names of their files."""
    items: list[PagesItem] = []
    names: set[str] = set()
    for one in plan.tunes:
        try:
            known, keys = _understood(one, plan)
        except InputError as error:
            problems += [problem for problem in error.problems if problem not in problems]
            continue
        except NoShapeError as error:
            problems.append(Problem(str(error), str(one.path)))
            continue
        names.add(one.path.name)
        for key in keys:
            label = f"{one.tune.title}, {key}"
            items.append(
                PagesItem(
                    labels={label: _label("pages", key=key)},
                    path=one.path,
                    key=key,
                    players=plan.players,
                    pages=plan.pages,
                    paper=plan.paper,
                    known=known,
                    again=again,
                )
            )
    return items, names


def _understood(one: BookTune, plan: BookPlan) -> tuple[str, tuple[str, ...]]:
    """All that a tune needs beside its file, as a text, and the keys it is printed in."""
    known = []
    keys: tuple[str, ...] = ()
    for player in plan.players:
        instrument = None if player in {OWN, *READERS} else player
        asked = understand(one.tune, Options(keys=one.keys, instrument=instrument))
        keys = tuple(str(key) for key in asked.keys)
        styles = sorted(map(repr, asked.styles.items()))
        known.append(repr((asked.player, styles)))  # their repertoire and weights included
    return "\n".join(dict.fromkeys(known)), keys


def _book_items(plan: BookPlan, good: list[PagesItem], work: Path) -> list[BookItem]:
    sources = tuple(_source(item, work) for item in good)
    made_from = tuple(item.inputs for item in good)
    base = slug(plan.title)
    return [
        BookItem(
            labels={f"{base}_{name}.pdf": _label("pdf", part=player)},
            title=plan.title,
            player=player,
            player_title=title,
            paper=plan.paper,
            sources=sources,
            made_from=made_from,
        )
        for player in plan.players
        for name, title in (_player(player, plan),)
    ]


def _player(player: str, plan: BookPlan) -> tuple[str, str]:
    """A player's name in a file name, and on the cover."""
    if player in _READER_TITLES:
        return ("bass-clef" if player == "bass" else player), _READER_TITLES[player]
    if player != OWN:
        return player, find_instrument(player).title
    played = dict.fromkeys(one.tune.instrument for one in plan.tunes)
    if len(played) == 1:
        (only,) = played
        if not only.endswith(".toml"):
            return only, find_instrument(only).title
    return "strummed", "Strummed parts"


def _label(kind: str, *, key: str = "", part: str | None = None) -> Label:
    return Label(kind=kind, role="book", key=key, tempo=0.0, position="", style="", part=part)


def _source(item: Item, work: Path) -> Path:
    return next(iter(work_paths(item, work).values()))


def _manifest(
    plan: BookPlan, books: list[BookItem], records: list[Done], notices: list[str]
) -> Manifest:
    files = [
        MadeFile(
            path=name,
            kind=label.kind,
            role=label.role,
            part=label.part,
            key="",
            tempo=0.0,
            position="",
            style="",
            sha256=record.sha256[name],
            inputs=item.inputs,
            notices=record.said.notices,
        )
        for item, record in zip(books, records, strict=True)
        for name, label in item.labels.items()
    ]
    return Manifest(tune=plan.title, files=tuple(files), tracks=(), notices=tuple(notices))
