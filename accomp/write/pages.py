"""Setting pages: data and pictures go into the typesetter, a PDF comes out.

Conventions: the typesetter is typst, used without the network and without the machine's fonts, so
that equal input gives equal bytes on every machine. Text from files reaches it in a JSON file.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from accomp.errors import OutputError
from accomp.files.data import package_file
from accomp.files.folders import working_here
from accomp.write.formats import PAPER_MM, Paper
from accomp.write.page_text import PageText

Made = TypeVar("Made")
_APART = (
    "import sys, typst; source, root, path = sys.argv[1:]; "
    "typst.compile(source, root=root, output=path, ignore_system_fonts=True)"
)
SIDE_MM, TOP_MM, BOTTOM_MM = 15.0, 19.0, 16.0
_TYPST_PAPERS: Mapping[Paper, str] = {"a4": "a4", "letter": "us-letter"}


class Pictures:
    """SVG pictures by file name; equal ones are kept once."""

    def __init__(self) -> None:
        self.files: dict[str, str] = {}

    def add(self, svg: str) -> str:
        """Keep a picture; returns the name under which the page asks for it."""
        name = f"{hashlib.sha256(svg.encode()).hexdigest()[:24]}.svg"
        self.files[name] = svg
        return name


@dataclass(frozen=True)
class PageMaterials:
    """The means to make pages: the paper, the text of their fonts, the pictures kept so far."""

    paper: Paper = "a4"
    text: PageText = field(default_factory=PageText)
    pictures: Pictures = field(default_factory=Pictures)

    @property
    def width_mm(self) -> float:
        """Width between the margins."""
        return PAPER_MM[self.paper][0] - 2 * SIDE_MM

    @property
    def height_mm(self) -> float:
        """Height between the margins."""
        return PAPER_MM[self.paper][1] - TOP_MM - BOTTOM_MM


@dataclass(frozen=True)
class PageSet:
    """Pages to be set: the title of the document, the data of each page, the paper. A `book` has
    numbers on all its pages, an `inset`, which goes into other pages, on none."""

    title: str
    pages: Sequence[Mapping[str, Any]]
    paper: Paper = "a4"
    book: bool = False
    inset: bool = False


def set_pdf(pages: PageSet, pictures: Mapping[str, str], path: Path) -> None:
    """Set pages and write the PDF. Raises `OutputError` when the typesetter refuses, `OSError`
    when the file cannot be written."""
    with typesetting() as table:
        path.write_bytes(table.printed(pages, pictures, path.name))


@contextlib.contextmanager
def typesetting() -> Iterator[Typesetting]:
    """A typesetter with a folder of its own, which goes when the context is left."""
    with contextlib.ExitStack() as stack:
        with working_here():
            folder = stack.enter_context(tempfile.TemporaryDirectory(prefix="accomp-"))
        yield Typesetting(Path(folder))


@dataclass(frozen=True)
class Typesetting:
    """The typesetter, with the folder of the files that it reads.

    A whole document is held in memory while it is set, each page by some megabytes. A document of
    very many pages is therefore set piece by piece, and takes in the finished PDF of each piece.
    """

    folder: Path

    def printed(self, pages: PageSet, pictures: Mapping[str, str], name: str) -> bytes:
        """The PDF of pages; errors call it `name`. Raises `OutputError`."""
        return self._set(self.laid_out(pages, pictures), name, _pdf)

    def print_apart(self, pages: PageSet, path: Path) -> None:
        """Write the PDF of very many pages. A process of its own sets them: memory that the
        typesetter still holds from earlier pieces is not in that process. Raises `OutputError`."""
        words = [sys.executable, "-c", _APART, str(self.laid_out(pages, {})), str(self.folder)]
        with working_here():
            made = self.folder / "whole.pdf"
            done = subprocess.run([*words, str(made)], capture_output=True, text=True)
        if done.returncode:
            said = done.stderr.strip().splitlines()
            why = said[-1] if said else "it ended without a word; out of memory?"
            raise OutputError(f"{path.name}: the book could not be set ({why}).")
        shutil.move(made, path)

    def piece(self, pages: PageSet, pictures: Mapping[str, str], name: str) -> list[dict[str, Any]]:
        """Set pages that are taken in later, and delete their pictures; returns the data of the
        pages that take them in. Raises `OutputError`."""
        source = self.laid_out(pages, pictures)
        made, (starts, last) = self._set(source, name, lambda press: (_pdf(press), _places(press)))
        with working_here():
            (self.folder / name).write_bytes(made)
            for picture in pictures:
                (self.folder / picture).unlink(missing_ok=True)
        ends = [start - 1 for start in starts[1:]] + [last]
        return [
            {
                "kind": "piece",
                "file": name,
                "from": start,
                "to": end,
                **{key: page[key] for key in ("tune", "name", "first")},
            }
            for page, start, end in zip(pages.pages, starts, ends, strict=True)
        ]

    def laid_out(self, pages: PageSet, pictures: Mapping[str, str]) -> Path:
        """The main file that the typesetter reads, with its data and pictures beside it."""
        document = {
            "title": pages.title,
            "paper": _TYPST_PAPERS[pages.paper],
            "book": True if pages.book else None,
            "inset": pages.inset,
            "pages": list(pages.pages),
        }
        with working_here():
            for name, svg in pictures.items():
                (self.folder / name).write_text(svg, encoding="utf-8")
            (self.folder / "data.json").write_text(json.dumps(document), encoding="utf-8")
            main = package_file("pages") / "pages.typ"
            return Path(shutil.copyfile(main, self.folder / main.name))

    def _set(self, source: Path, name: str, ask: Callable[[Any], Made]) -> Made:
        """The answer of `ask` to the compiler of one document. Raises `OutputError`."""
        import typst

        try:
            return ask(typst.Compiler(str(source), root=str(self.folder), ignore_system_fonts=True))
        except typst.TypstError as error:
            raise OutputError(f"{name}: the page could not be set ({error}).") from error


def _pdf(press: Any) -> bytes:
    made = press.compile()
    assert isinstance(made, bytes), "one document gives one PDF"
    return made


def _places(press: Any) -> tuple[list[int], int]:
    """The numbers of the pages on which each page of the data begins, and the last one's."""
    (places,) = json.loads(press.query("<places>", field="value"))
    return places["starts"], places["last"]
