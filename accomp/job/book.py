"""Make a band book: one PDF for each player from a folder of tunes.

Conventions: tunes that fail are reported together and the rest of the book is made. Nothing in the
output folder changes before every PDF is finished. A stopped run is continued where it was, and
unchanged tunes are not engraved again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from accomp.errors import InputError, Problem, problems_of
from accomp.files.folders import output_errors
from accomp.job.book_pages import PagesItem, options_for, read_pages, tidy_cache
from accomp.job.book_read import OWN, BookTune, WholeBook
from accomp.job.build import Build, JobProgress, manifest_of
from accomp.job.items import Item, Outcome, Progress, digest, page_makers, spelt
from accomp.job.manifest import Label, Manifest
from accomp.job.request import resolve
from accomp.neck import find_instrument
from accomp.score.readers import READERS, Reader
from accomp.tune import slug
from accomp.write.formats import Paper

_READER_TITLES: Mapping[Reader, str] = {
    "concert": "Concert pitch",
    "Bb": "B♭ instruments",
    "Eb": "E♭ instruments",
    "bass": "Bass clef",
}
_ENGRAVING = 0.85  # share of engraving in the whole work
_PACKING = 0.8  # share of packing the pages in the work on one player's book


@dataclass(frozen=True)
class MadeBook:
    """A finished book: its manifest, the number of tunes in it, and the problems of the others."""

    manifest: Manifest
    tunes: int
    problems: tuple[Problem, ...]


def make_book(
    band_book: WholeBook,
    folder: Path,
    *,
    jobs: int = 1,
    again: bool = False,
    replace: bool = False,
    progress: JobProgress | None = None,
) -> MadeBook:
    """Make a book in `folder`; with `again`, unchanged files are made again, too.

    With `replace`, files are replaced even if no earlier book made them. Raises `InputError` with
    every problem when no tune is left, `OutputError` when the folder cannot be written.
    """
    problems = list(band_book.problems)
    pages = _pages_items(band_book, problems, again)
    if not pages:
        raise InputError(dict.fromkeys(problems))
    build = Build(folder, jobs=jobs, keep=True, again=again, replace=replace, progress=progress)
    with build.opened():
        build.keep_others(_file(player, band_book) for player in band_book.players)
        build.make(pages, (0.0, _ENGRAVING))
        notices = list(band_book.notices)
        good: list[PagesItem] = []
        failed: set[Path] = set()
        for item in pages:
            document = read_pages(_source(item, build))
            problems += document["problems"]
            notices += document["notices"]
            if document["problems"]:
                failed.add(item.path)
            else:
                good.append(item)
        if not good:
            raise InputError(dict.fromkeys(problems))
        books = _book_items(band_book, good, build)
        records = build.make(books, (_ENGRAVING, 1.0))
        manifest = manifest_of(band_book.title, books, records, notices=notices)
        manifest = build.move(books, manifest)
    tidy_cache()
    made = {item.path for item in pages} - failed
    return MadeBook(manifest, len(made), tuple(dict.fromkeys(problems)))


def _pages_items(band_book: WholeBook, problems: list[Problem], again: bool) -> list[PagesItem]:
    """One item for each key of each tune that can be looked up; adds the problems of the others."""
    items: list[PagesItem] = []
    for one in band_book.tunes:
        try:
            known, keys = _needed(one, band_book)
        except Exception as error:  # any error of one tune must not stop the others
            problems += problems_of(error, one.path)
            continue
        items += [
            PagesItem(
                labels={f"{one.tune.title}, {key}": Label("pages", "book", key=key)},
                path=one.path,
                key=key,
                players=band_book.players,
                pages=band_book.pages,
                paper=band_book.paper,
                boxes=band_book.boxes,
                part=band_book.part,
                known=known,
                again=again,
            )
            for key in keys
        ]
    return items


def _needed(one: BookTune, band_book: WholeBook) -> tuple[str, tuple[str, ...]]:
    """All that a tune needs besides its own file, as a text, and the keys it is printed in."""
    requests = [resolve(one.tune, options_for(player, one.keys)) for player in band_book.players]
    known = [
        spelt((request.player, sorted(map(spelt, request.styles.items())))) for request in requests
    ]
    return "\n".join(dict.fromkeys(known)), tuple(map(str, requests[0].keys))


def _book_items(band_book: WholeBook, good: Sequence[PagesItem], build: Build) -> list[Item]:
    items: list[Item] = []
    for player in band_book.players:
        title = _named(player, band_book)[1]
        label = Label("pdf", "book", part=player)
        items.append(
            BookItem(
                labels={_file(player, band_book): label},
                title=band_book.title,
                player=player,
                player_title=title,
                paper=band_book.paper,
                sources=tuple(_source(item, build) for item in good),
                made_from=tuple(item.inputs for item in good),
            )
        )
    return items


def _file(player: str, band_book: WholeBook) -> str:
    """The name of a player's PDF."""
    return f"{slug(band_book.title)}_{_named(player, band_book)[0]}.pdf"


def _named(player: str, band_book: WholeBook) -> tuple[str, str]:
    """A player's name in the file name, and on the cover."""
    if player in READERS:
        return ("bass-clef" if player == "bass" else player), _READER_TITLES[player]
    if player != OWN:
        return player, find_instrument(player).title
    played = dict.fromkeys(one.tune.instrument for one in band_book.tunes)
    if len(played) == 1:
        (only,) = played
        if not only.endswith(".toml"):
            return only, find_instrument(only).title
    return "strummed", "Strummed parts"


def _source(item: PagesItem, build: Build) -> Path:
    return next(iter(build.paths(item).values()))


@dataclass(frozen=True)
class BookItem(Item):
    """The PDF of one player: `sources` are the documents of pages, `made_from` their `inputs`."""

    title: str
    player: str
    player_title: str
    paper: Paper
    sources: tuple[Path, ...]
    made_from: tuple[str, ...]

    @cached_property
    def inputs(self) -> str:
        """Hash of the tunes' pages in order, the title, the player, the paper and the makers."""
        return digest(
            "book", *self.labels, self.title, self.player, self.player_title, self.paper,
            *self.made_from, page_makers(),
        )  # fmt: skip

    @property
    def weight(self) -> float:
        """Little: setting is quick compared with engraving."""
        return 0.2 * len(self.sources) + 0.5

    def write(self, paths: Mapping[str, Path], progress: Progress) -> Outcome:
        """Set the book."""
        from accomp.write.book import Entry, write_book

        progress(0.0)
        count = len(self.sources)

        def entries() -> Iterator[Entry]:
            for number, source in enumerate(self.sources):
                one = read_pages(source)
                pages, pictures = one["pages"], one["pictures"]
                yield Entry(pages.get(self.player, []), pictures.get(self.player, {}))
                progress(_PACKING * number / count)

        notices: tuple[str, ...] = ()
        for path in paths.values():
            with output_errors(path.parent):
                notices = write_book(
                    self.title, self.player_title, entries(), path, paper=self.paper
                )
        return Outcome(notices)
