"""The [sections] table and the form: bars as typed, in the order in which they are played.

Conventions: sections keep the order of the file; a section without a key or meter has the tune's.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from accomp.files import values
from accomp.files.table import Table, TextError
from accomp.files.toml import TomlPath
from accomp.files.values import control_character, short
from accomp.harmony import Key
from accomp.time import METER, MOST_BARS, Meter
from accomp.tune.fields import KEY, section_name
from accomp.tune.grid import GridBar, read_grid

_BARS = 'A = "| F | C7 | F | F |"'


@dataclass(frozen=True, slots=True)
class TypedSection:
    """A section as typed: its bars are cut and counted, its `/` not yet followed.

    `table` and `path` say where its bars stand; `meter` is None where it could not be read.
    """

    name: str
    table: Table
    path: TomlPath
    grid: tuple[GridBar, ...]
    key: Key
    meter: Meter | None
    style: str | None

    def wrong(self, error: TextError) -> None:
        """Note a mistake in the bars."""
        self.table.text_error(error, *self.path)

    def place(self, offset: int) -> tuple[int, int]:
        """Line and column of a character of the bars."""
        return self.table.findings.document.inside(offset, *self.table.path, *self.path)


def read_sections(
    top: Table, key: Key, meter: Meter | None, tune_keys: tuple[str, ...]
) -> dict[str, TypedSection]:
    """All sections that can be understood, in file order."""
    table = top.table("sections", _BARS)
    if table is None:
        return {}
    if not table.data:
        hint = f"Write under it {_BARS}."
        top.wrong("[sections] is empty.", "sections", expected="at least one section", hint=hint)
    sections: dict[str, TypedSection] = {}
    most = MOST_BARS
    for name, value in table.named().items():
        if _misplaced(table, name, value, tune_keys) or not _good_name(table, name):
            continue
        sections[name] = _section(table, name, key, meter, most)
        most -= len(sections[name].grid)
    return sections


def _misplaced(table: Table, name: str, value: object, tune_keys: tuple[str, ...]) -> bool:
    """Whether a key of the tune itself has slipped under [sections]."""
    if name not in tune_keys or (isinstance(value, str) and "|" in value):
        return False
    where = "before [sections], the first table"
    table.wrong(
        f"{name!r} stands inside [sections], and belongs to the tune.",
        name,
        key=True,
        found=name,
        expected=where,
        hint=f"Move {name!r} up, to a line {where}: what follows a [table] belongs to it.",
    )
    return True


def _good_name(table: Table, name: str) -> bool:
    if name.strip() and control_character(name) is None and len(name) <= 100:
        return True
    table.wrong(
        "this is not a name for a section.",
        name,
        key=True,
        found=short(name),
        expected="a short name on one line, as A or verse",
        hint="Give the section another name.",
    )
    return False


def _section(table: Table, name: str, key: Key, meter: Meter | None, most: int) -> TypedSection:
    path, style = name, None
    if isinstance(table.data[name], dict):
        inner = table.table(name)
        assert inner is not None
        table, path = inner, "bars"
        key = table.get("key", KEY, key)
        if "meter" in table:
            meter = table.get("meter", METER, None)
        style = table.get("style", values.text(), None)
    text = table.get(path, _TEXT_OF_BARS, None, needed=True)
    grid: tuple[GridBar, ...] = ()
    if text is not None:
        grid = read_grid(text, meter, lambda error: table.text_error(error, path), most)
    return TypedSection(name, table, (path,), grid, key, meter, style)


def _take_bars(found: object) -> str:
    if not isinstance(found, str):
        raise values.WrongValueError
    if all(line.strip() in {"", "|"} for line in found.split("\n")):
        raise values.WrongValueError(instead="is empty")
    return found


_TEXT_OF_BARS = values.Value("bars in quotes", _take_bars, '"| F | C7 |"')


def read_form(top: Table, sections: Mapping[str, TypedSection]) -> tuple[str, ...] | None:
    """The names of the sections in the order played, None when it is wrong; unused sections become
    notices."""
    if "form" not in top:
        top.expects(["form"])
        form = tuple(sections)
    else:
        known = top.data.get("sections")
        each = section_name(known) if isinstance(known, dict) and known else values.text()
        form = top.several("form", each, (), example='form = ["A", "A", "B"]')
        given = top.data["form"]
        if not form or len(form) < len(given):
            return None
        unused = [name for name in sections if name not in set(form)]
        top.findings.notices += [
            f"Section {name!r} is not in the form and is not played." for name in unused
        ]
    if sum(len(sections[name].grid) for name in form if name in sections) > MOST_BARS:
        top.wrong(
            f"the form is longer than {MOST_BARS} bars, too many for a tune.",
            "form",
            expected=f"at most {MOST_BARS} bars",
            hint="Shorten it; how often the tune is played is asked for when it is made.",
        )
        return None
    return form
