"""What a band book is made of: the pages of each tune in each key, then one PDF a player.

Conventions: the pages of a tune are one JSON document for all players, so that it is planned once:
{"pages": {player: [...]}, "pictures": {player: {...}}, "notices": [...], "problems": [...]}.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

from accomp.errors import AccompError, InputError, Problem
from accomp.files.folders import output_errors
from accomp.job import book_cache
from accomp.job.asked import understand
from accomp.job.book_read import OWN
from accomp.job.items import Item, Progress, Said, digest
from accomp.job.makers import page_makers
from accomp.job.options import Options
from accomp.job.paper import lesson_text
from accomp.job.positions import TuneNeck
from accomp.job.versions import Version, in_keys, versions
from accomp.score.notate_layout import ScoreLayout
from accomp.score.readers import READERS, PlayerPart, Reader
from accomp.tune import Tune, read_tune
from accomp.write.formats import PageKind, Paper

_OWN_PAGES, _READER_PAGES = (PageKind.CHART, PageKind.PART), (PageKind.CHART,)


@dataclass(frozen=True)
class _Planned:
    """A tune on an instrument, with what a lesson is made from."""

    version: Version
    neck: TuneNeck


@dataclass(frozen=True)
class PagesItem(Item):
    """The pages of a tune in one key, for every player of the book.

    `known` is a text that changes with everything the tune needs beside its own file. With `again`
    they are made even where the cache has them.
    """

    path: Path = Path()
    key: str = ""
    players: tuple[str, ...] = ()
    pages: tuple[str, ...] | None = None
    paper: str = "a4"
    known: str = ""
    again: bool = False

    @cached_property
    def inputs(self) -> str:
        """The tune, its styles and instrument, the key, the players, the pages and what makes them
        decide."""
        return digest(
            "pages", self.path.name, self.path.read_bytes(), self.key, self.players, self.pages,
            self.paper, self.known, page_makers(),
        )  # fmt: skip

    @property
    def weight(self) -> float:
        """A tune's pages take longer the more there are."""
        return 1.0 + len(self.players) / 4

    def write(self, paths: Mapping[str, Path], progress: Progress) -> Said:
        """Make the pages, or take them from the cache. A tune that fails is written as its
        problems."""
        progress(0.0)
        data = None if self.again else book_cache.fetch(self.inputs)
        if data is None:
            document = self._made(progress)
            data = json.dumps(document, ensure_ascii=False, sort_keys=True).encode(
                "utf-8", "surrogatepass"
            )
            if not document["problems"]:
                book_cache.keep(self.inputs, data)
        for path in paths.values():
            with output_errors(path.parent):
                path.write_bytes(data)
        return Said()

    def _made(self, progress: Progress) -> dict[str, Any]:
        document: dict[str, Any] = {"pages": {}, "pictures": {}, "notices": [], "problems": []}
        try:
            tune = read_tune(self.path)
            planned: dict[str | None, _Planned] = {}
            for player in self.players:
                instrument = None if player in {OWN, *READERS} else player
                if instrument not in planned:
                    planned[instrument] = self._planned(tune, instrument)
                self._add(document, planned[instrument], player)
                progress(len(document["pages"]) / len(self.players))
        except InputError as error:
            document["problems"] = [_row(problem) for problem in error.problems]
        except AccompError as error:
            document["problems"] = [_row(Problem(str(error), str(self.path)))]
        return document

    def _planned(self, tune: Tune, instrument: str | None) -> _Planned:
        """The tune in its key on an instrument, planned and arranged."""
        options = Options(keys=(self.key,) if self.key else (), instrument=instrument)
        asked = understand(tune, options)
        moved, neck = next(iter(in_keys(tune, asked)))
        version = next(iter(versions(moved, neck, asked, options.seed)))
        return _Planned(version, neck)

    def _add(self, document: dict[str, Any], planned: _Planned, player: str) -> None:
        from accomp.write.pages import Press
        from accomp.write.sheet import tune_pages

        version, neck = planned.version, planned.neck
        own = player not in READERS
        pages = tuple(map(PageKind, self.pages or ())) or (_OWN_PAGES if own else _READER_PAGES)
        layout = ScoreLayout() if own else ScoreLayout(PlayerPart.SLASH, reader=Reader(player))
        layout = replace(layout, bass=False)
        press = Press(Paper(self.paper))
        lesson = lesson_text(version, neck) if own and PageKind.LESSON in pages else None
        document["pages"][player] = tune_pages(
            version.written, pages, layout, press, lesson, own=own
        )
        document["pictures"][player] = press.pictures.files
        for notice in press.text.notices:
            said = f"{self.path.name}: {notice}"
            if said not in document["notices"]:
                document["notices"].append(said)


def _row(problem: Problem) -> dict[str, Any]:
    return {name: getattr(problem, name) for name in Problem.__slots__}


def problems_in(document: Mapping[str, Any]) -> list[Problem]:
    """The problems that a document of pages holds."""
    return [Problem(**row) for row in document["problems"]]


@dataclass(frozen=True)
class BookItem(Item):
    """The PDF of one player: `sources` are the documents of pages, `made_from` their inputs."""

    title: str = ""
    player: str = ""
    player_title: str = ""
    paper: str = "a4"
    sources: tuple[Path, ...] = ()
    made_from: tuple[str, ...] = ()

    @cached_property
    def inputs(self) -> str:
        """The tunes' pages, their order, the title, the player and what sets them decide."""
        return digest(
            "book", *self.labels, self.title, self.player, self.player_title, self.paper,
            *self.made_from, page_makers(),
        )  # fmt: skip

    @property
    def weight(self) -> float:
        """Setting is quick beside engraving."""
        return 0.2 * len(self.sources) + 0.5

    def write(self, paths: Mapping[str, Path], progress: Progress) -> Said:
        """Set the book."""
        from accomp.write.book import Entry, write_book

        progress(0.0)
        entries = []
        for source in self.sources:
            document = json.loads(source.read_bytes().decode("utf-8", "surrogatepass"))
            entries.append(
                Entry(
                    document["pages"].get(self.player, []),
                    document["pictures"].get(self.player, {}),
                )
            )
        notices: tuple[str, ...] = ()
        for path in paths.values():
            with output_errors(path.parent):
                notices = write_book(
                    self.title, self.player_title, entries, path, paper=Paper(self.paper)
                )
        return Said(notices=notices)
