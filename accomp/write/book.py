"""A band book: cover, contents, the tunes' pages, an index by title and one by key.

Conventions: one book is for one player. A tune's pages are made beforehand and only put in order
here; each entry (a tune in a key) has an address, by which contents and index find its page.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from accomp.write.formats import Paper
from accomp.write.page_text import PageText
from accomp.write.pages import PageSet, Typesetting, typesetting

Pages = Sequence[Mapping[str, Any]]


@dataclass(frozen=True)
class Entry:
    """A tune in one key: its pages for the player, and the pictures they use by name."""

    pages: Pages
    pictures: Mapping[str, str]


def write_book(
    title: str, player: str, entries: Iterable[Entry], path: Path, *, paper: Paper = "a4"
) -> tuple[str, ...]:
    """Write the book of one player; returns notices. Entries without pages are left out."""
    text = PageText()
    cover = f"{text(title, 'The title of the book')}, {player}"
    with typesetting() as table:
        tunes = list(set_tunes(table, entries, paper))
        pages = PageSet(cover, book_pages(title, player, tunes, text), paper, book=True)
        table.print_apart(pages, path)
    return text.notices


def set_tunes(table: Typesetting, entries: Iterable[Entry], paper: Paper) -> Iterator[Pages]:
    """Set entries one after another, each by itself; yields, for each, the data of the pages that
    take it in. An entry is not held longer: a book may have hundreds, each with megabytes of
    pictures."""
    for number, entry in enumerate(entries, 1):
        if entry.pages:
            pages = PageSet("", entry.pages, paper, inset=True)
            yield table.piece(pages, entry.pictures, f"t{number}.pdf")


def book_pages(
    title: str, player: str, entries: Sequence[Pages], text: PageText
) -> list[dict[str, Any]]:
    """The data of all pages, in order, from those of each entry."""
    tunes = [_addressed(pages, f"t{number}") for number, pages in enumerate(entries, 1)]
    rows = [pages[0]["tune"] for pages in tunes]
    shown = text(title, "The title of the book") or "Band book"
    return [
        {
            "kind": "cover",
            "title": shown,
            "title-size": max(18.0, min(44.0, 1500.0 / max(len(shown), 1))),
            "player": player,
            "counted": _counted(rows),
        },
        {"kind": "contents", "head": "Contents", "entries": [_row(tune) for tune in rows]},
        *(page for pages in tunes for page in pages),
        {"kind": "index", "head": "By title", "first": True, "groups": _by_title(rows)},
        {"kind": "index", "head": "By key", "first": False, "groups": _by_key(rows)},
    ]


def _addressed(entry: Pages, label: str) -> list[dict[str, Any]]:
    pages = [dict(page) for page in entry]
    pages[0] = copy.deepcopy(pages[0])
    pages[0]["tune"]["label"] = label
    return pages


def _counted(rows: Sequence[Mapping[str, Any]]) -> str:
    titles = len({row["title"] for row in rows})
    return f"{titles} tune{'s' if titles != 1 else ''}"


def _row(tune: Mapping[str, Any]) -> dict[str, Any]:
    return {"text": tune["entry"], "label": tune["label"]}


def _by_title(rows: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Groups under the first letter, in order of the alphabet."""
    groups: dict[str, list[dict[str, Any]]] = {}
    for tune in sorted(rows, key=lambda tune: (_sorting(tune["title"]), tune["key"])):
        first = _sorting(tune["title"])[:1].upper()
        groups.setdefault(first if first.isalpha() else "#", []).append(_row(tune))
    return [{"head": head, "entries": entries} for head, entries in groups.items()]


def _by_key(rows: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    groups: dict[str, list[dict[str, Any]]] = {}
    for tune in sorted(rows, key=lambda tune: (tune["key"], _sorting(tune["title"]))):
        entry = {"text": tune["short"], "label": tune["label"]}
        groups.setdefault(tune["key"], []).append(entry)
    return [{"head": head, "entries": entries} for head, entries in groups.items()]


def _sorting(title: str) -> str:
    """The title as an index sorts it: small letters, no leading article."""
    folded = title.casefold()
    for article in ("the ", "a ", "an "):
        if folded.startswith(article) and len(folded) > len(article):
            return folded[len(article) :]
    return folded
