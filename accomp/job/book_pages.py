"""The pages of one tune of a band book in one key, for every player, with a cache.

Conventions: the pages of a tune are one JSON document for all players, so that it is planned once:
{"pages": {player: [...]}, "pictures": {player: {...}}, "notices": [...], "problems": [...]}. The
user's cache keeps them under the SHA-256 of everything that decides them, so that an unchanged tune
is not engraved again. Where the cache cannot be read or written, pages are made anew.
"""

from __future__ import annotations

import contextlib
import gzip
import hashlib
import json
import os
import tempfile
import zlib
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from accomp.errors import OutputError, Problem, problems_of
from accomp.files.folders import output_errors
from accomp.files.homes import cache_folder
from accomp.files.plain import open_plain
from accomp.job.book_read import OWN
from accomp.job.items import Item, Outcome, Progress, digest, page_makers
from accomp.job.options import Options
from accomp.job.paper import lesson_text
from accomp.job.request import resolve
from accomp.job.versions import Version, in_key
from accomp.score.notate_layout import ScoreLayout
from accomp.score.readers import READERS, AskedPart
from accomp.tune import Tune, read_tune
from accomp.write.formats import BoxLayout, PageKind, Paper

MOST_BYTES = 200_000_000  # of the cache; the oldest entries are removed when there is more
_KEPT = ".pages"  # file name ending in the cache
_SUM = hashlib.sha256().digest_size
_OWN_PAGES: tuple[PageKind, ...] = ("chart", "part")
_READER_PAGES: tuple[PageKind, ...] = ("chart",)


def options_for(player: str, keys: tuple[str, ...]) -> Options:
    """The options for a player of a book: their instrument, or the one that the tune names."""
    return Options(keys=keys, instrument=None if player in {OWN, *READERS} else player)


@dataclass(frozen=True)
class PagesItem(Item):
    """The pages of a tune in one key, for every player of the book.

    `known` is a text that changes with everything the tune needs besides its own file. With `again`
    the pages are made even if the cache has them.
    """

    path: Path
    key: str
    players: tuple[str, ...]
    pages: tuple[PageKind, ...] | None
    paper: Paper
    boxes: BoxLayout
    part: AskedPart
    known: str
    again: bool

    @cached_property
    def inputs(self) -> str:
        """Hash of the tune with its styles and instrument, the key, the players, the choice of
        pages and the makers."""
        return digest(
            "pages", self.path.name, self.path.read_bytes(), self.key, self.players, self.pages,
            self.paper, self.boxes, self.part, self.known, page_makers(),
        )  # fmt: skip

    @property
    def weight(self) -> float:
        """More for more players."""
        return 1.0 + len(self.players) / 4

    def usable(self, paths: Mapping[str, Path]) -> bool:
        """Whether the documents can be read."""
        try:
            for path in paths.values():
                read_pages(path)
        except (OSError, ValueError, KeyError, TypeError):
            return False
        return True

    def write(self, paths: Mapping[str, Path], progress: Progress) -> Outcome:
        """Make the pages, or take them from the cache. A tune that fails is written as its
        problems."""
        progress(0.0)
        data = None if self.again else _fetch(self.inputs)
        if data is None:
            document = self._made(progress)
            data = json.dumps(document, ensure_ascii=False, sort_keys=True).encode(
                "utf-8", "surrogatepass"
            )
            if not document["problems"]:
                _keep(self.inputs, data)
        for path in paths.values():
            with output_errors(path.parent):
                path.write_bytes(data)
        return Outcome()

    def _made(self, progress: Progress) -> dict[str, Any]:
        document: dict[str, Any] = {"pages": {}, "pictures": {}, "notices": [], "problems": []}
        try:
            tune = read_tune(self.path)
            planned: dict[str | None, Version] = {}
            for player in self.players:
                options = options_for(player, (self.key,))
                if options.instrument not in planned:
                    planned[options.instrument] = _version(tune, options)
                self._add(document, planned[options.instrument], player)
                progress(len(document["pages"]) / len(self.players))
        except OutputError:  # a full disk, for example, is not this tune's problem
            raise
        except Exception as error:  # any error of one tune must not stop the others
            problems = problems_of(error, self.path)
            document["problems"] = [asdict(problem) for problem in problems]
        return document

    def _add(self, document: dict[str, Any], version: Version, player: str) -> None:
        from accomp.write.pages import PageMaterials
        from accomp.write.sheet import tune_pages
        from accomp.write.sheet_tune import Printing

        own = player not in READERS
        pages = self.pages or (_OWN_PAGES if own else _READER_PAGES)
        if player in READERS:
            layout = ScoreLayout("slash", bass=False, reader=player)
        else:
            layout = ScoreLayout(self.part, bass=False)
        printing = Printing((layout,), self.boxes)
        materials = PageMaterials(self.paper)
        lesson = lesson_text(version, every=False) if own and "lesson" in pages else None
        document["pages"][player] = tune_pages(
            version.on_paper, pages, printing, materials, lesson, own=own
        )
        document["pictures"][player] = materials.pictures.files
        for notice in materials.text.notices:
            said = f"{self.path.name}: {notice}"
            if said not in document["notices"]:
                document["notices"].append(said)


def _version(tune: Tune, options: Options) -> Version:
    """The tune in its key on an instrument."""
    request = resolve(tune, options)
    return in_key(request, request.keys[0])[0]


def read_pages(path: Path) -> dict[str, Any]:
    """A document of pages, its problems as `Problem`s."""
    with open_plain(path) as stream:
        text = stream.read().decode("utf-8", "surrogatepass")
    document: dict[str, Any] = json.loads(text)
    document["problems"] = [
        Problem(**{**row, "helps": tuple(row["helps"])}) for row in document["problems"]
    ]
    return document


def _cache() -> Path:
    return cache_folder() / "pages"


def _fetch(name: str) -> bytes | None:
    """The bytes kept under a name, None when there are none or they are damaged.

    The packed bytes follow their SHA-256 in the file, so that damaged ones are never unpacked.
    """
    path = _cache() / f"{name}{_KEPT}"
    try:
        with open_plain(path) as stream:
            wanted, packed = stream.read(_SUM), stream.read()
        if hashlib.sha256(packed).digest() != wanted:
            return None
        data = gzip.decompress(packed)
        os.utime(path)
    except (OSError, EOFError, zlib.error, ValueError):
        return None
    return data


def _keep(name: str, data: bytes) -> None:
    """Keep bytes under a name, if possible; there is no error if not."""
    folder = _cache()
    with contextlib.suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
        handle, aside = tempfile.mkstemp(prefix=".", dir=folder)
        try:
            with os.fdopen(handle, "wb") as stream:
                packed = gzip.compress(data, compresslevel=1, mtime=0)
                stream.write(hashlib.sha256(packed).digest() + packed)
            os.replace(aside, folder / f"{name}{_KEPT}")
        except OSError:
            Path(aside).unlink(missing_ok=True)


def tidy_cache() -> None:
    """Remove the least recently used pages until the rest has at most `MOST_BYTES`."""
    with contextlib.suppress(OSError):
        found = [(entry.stat(), entry.path) for entry in os.scandir(_cache())]
        total = 0
        for state, path in sorted(found, key=lambda row: row[0].st_mtime, reverse=True):
            total += state.st_size
            if total > MOST_BYTES:
                Path(path).unlink(missing_ok=True)
