"""Setting pages: data and pictures go into the typesetter, a PDF comes out.

Conventions: the typesetter is typst, used without the network and without the machine's fonts, so
that equal input gives equal bytes on every machine. Text from files reaches it in a JSON file.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import shutil
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from accomp.errors import OutputError
from accomp.files.data import package_file
from accomp.files.folders import output_errors
from accomp.write.formats import Paper
from accomp.write.page_text import PageText

SIDE_MM, TOP_MM, BOTTOM_MM = 15.0, 19.0, 16.0
_TYPST_PAPERS = {Paper.A4: "a4", Paper.LETTER: "us-letter"}


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
class Press:
    """What pages are made with: the paper, the text of their fonts, the pictures kept so far."""

    paper: Paper = Paper.A4
    text: PageText = field(default_factory=PageText)
    pictures: Pictures = field(default_factory=Pictures)

    @property
    def width_mm(self) -> float:
        """Width between the margins."""
        return self.paper.size_mm[0] - 2 * SIDE_MM

    @property
    def height_mm(self) -> float:
        """Height between the margins."""
        return self.paper.size_mm[1] - TOP_MM - BOTTOM_MM


def set_pdf(
    title: str,
    pages: Sequence[Mapping[str, Any]],
    pictures: Mapping[str, str],
    path: Path,
    *,
    paper: Paper = Paper.A4,
    book: bool = False,
) -> None:
    """Set `pages` and write the PDF. Raises `OutputError` when the typesetter refuses, `OSError`
    as the system says it."""
    with typesetting(title, pages, pictures, paper, book=book) as (source, root):
        path.write_bytes(_compiled(path.name, source, root))


@contextlib.contextmanager
def typesetting(
    title: str,
    pages: Sequence[Mapping[str, Any]],
    pictures: Mapping[str, str],
    paper: Paper,
    *,
    book: bool,
) -> Iterator[tuple[str, str]]:
    """A folder with everything that the typesetter reads, and its main file."""
    with contextlib.ExitStack() as stack:
        # A full disk under the working files is said with their place.
        with output_errors(Path(tempfile.gettempdir())):
            folder = stack.enter_context(tempfile.TemporaryDirectory(prefix="accomp-"))
            _lay_out(Path(folder), title, pages, pictures, paper, book=book)
        yield str(Path(folder) / "pages.typ"), folder


def _lay_out(
    root: Path,
    title: str,
    pages: Sequence[Mapping[str, Any]],
    pictures: Mapping[str, str],
    paper: Paper,
    *,
    book: bool,
) -> None:
    shutil.copyfile(package_file("pages") / "pages.typ", root / "pages.typ")
    document = {
        "title": title,
        "paper": _TYPST_PAPERS[paper],
        "book": True if book else None,
        "pages": list(pages),
    }
    (root / "data.json").write_text(json.dumps(document), encoding="utf-8")
    for name, svg in pictures.items():
        (root / name).write_text(svg, encoding="utf-8")


def _compiled(name: str, source: str, root: str) -> bytes:
    import typst

    try:
        made = typst.compile(source, root=root, ignore_system_fonts=True)
    except typst.TypstError as error:
        raise OutputError(f"{name}: the page could not be set ({error}).") from error
    assert isinstance(made, bytes), "one document gives one PDF"
    return made
