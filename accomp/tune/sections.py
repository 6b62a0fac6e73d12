"""The [sections] table: bars as typed, with their endings.

Conventions: sections keep the order of the file; a section without a key or meter has the tune's.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from accomp.files import values
from accomp.files.table import Table, TextError
from accomp.files.text import ORDINALS
from accomp.files.toml import TomlPath
from accomp.files.values import control_character, short
from accomp.harmony import Key
from accomp.time import METER, MOST_BARS, Meter
from accomp.tune.fields import KEY
from accomp.tune.grid import GridBar, read_grid, read_repeats
from accomp.tune.model import Repeat
from accomp.tune.road import played_length

_BARS = 'A = "| F | C7 | F | F |"'


ENDINGS = ORDINALS[:6]
LAST = "last"


@dataclass(frozen=True, slots=True)
class TypedBars:
    """Bars as typed, cut and counted; `table` and `path` say where they stand."""

    table: Table
    path: TomlPath
    grid: tuple[GridBar, ...] = ()

    def wrong(self, error: TextError) -> None:
        """Note a mistake in the bars."""
        self.table.text_error(error, *self.path)

    def place(self, offset: int) -> tuple[int, int]:
        """Line and column of a character of the bars."""
        return self.table.findings.document.inside(offset, *self.table.path, *self.path)


@dataclass(frozen=True, slots=True)
class TypedSection:
    """A section as typed: its `/` and `%` are not yet followed. `meter` is None where it could not
    be read; `table` and `path` say where its name stands."""

    name: str
    table: Table
    path: TomlPath
    body: TypedBars
    key: Key
    meter: Meter | None
    style: str | None
    repeats: tuple[Repeat, ...] = ()
    endings: tuple[TypedBars, ...] = ()
    last: TypedBars | None = None
    to_coda: int | None = None

    @property
    def numbered(self) -> int:
        """How many numbered endings it has."""
        return len(self.endings)

    @property
    def has_last(self) -> bool:
        """Whether it has an ending for the last time."""
        return self.last is not None

    @property
    def played(self) -> int:
        """How many bars it has at most when it is played once."""
        ends = (*self.endings, *filter(None, (self.last,)))
        body = played_length(len(self.body.grid), self.repeats)
        return body + max((len(end.grid) for end in ends), default=0)

    @property
    def bars_on_paper(self) -> int:
        """How many bars it has on paper."""
        ends = (*self.endings, *filter(None, (self.last,)))
        return len(self.body.grid) + sum(len(end.grid) for end in ends)


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
        most -= sections[name].bars_on_paper
    return sections


def _misplaced(table: Table, name: str, value: object, tune_keys: tuple[str, ...]) -> bool:
    """Whether a key of the tune itself has slipped under [sections]."""
    if name not in tune_keys or (isinstance(value, str) and "|" in value):
        return False
    if isinstance(value, dict) and "bars" in value:
        return False
    where = "before [sections], the first table"
    table.wrong(
        f"{name!r} stands inside [sections], and belongs to the tune.",
        name,
        at="key",
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
        at="key",
        found=short(name),
        expected="a short name on one line, as A or verse",
        hint="Give the section another name.",
    )
    return False


def _section(table: Table, name: str, key: Key, meter: Meter | None, most: int) -> TypedSection:
    if not isinstance(table.data[name], dict):
        body = _typed(table, name, meter, most)
        return TypedSection(name, table, (name,), body, key, meter, None, _repeats(body))
    inner = table.table(name)
    assert inner is not None
    key = inner.get("key", KEY, key)
    if "meter" in inner:
        meter = inner.get("meter", METER, None)
    style = inner.get("style", values.text(), None)
    body = _typed(inner, "bars", meter, most)
    typed = TypedSection(name, table, (name,), body, key, meter, style, _repeats(body))
    inner.expects((*ENDINGS, LAST, "to_coda"))
    return _with_endings(typed, inner, most - len(body.grid))


def _with_endings(typed: TypedSection, table: Table, most: int) -> TypedSection:
    """The section with its endings, and where it is left for the coda."""
    endings = []
    for index, name in enumerate(ENDINGS):
        if name not in table:
            break
        endings.append(_typed(table, name, typed.meter, most))
        most -= len(endings[-1].grid)
        if index == 0 and ENDINGS[1] not in table and LAST not in table:
            _lonely_ending(table)
    for name in (*ENDINGS[len(endings) :], LAST):
        if name in table and not (name == LAST and endings):
            _no_ending_before(table, name, ENDINGS[len(endings)])
    last = _typed(table, LAST, typed.meter, most) if LAST in table else None
    for end in (*endings, *filter(None, (last,))):
        _no_repeats(end)
    bars = len(typed.body.grid)
    to_coda = table.get("to_coda", values.whole(1, max(1, bars)), None)
    return replace(typed, endings=tuple(endings), last=last if endings else None, to_coda=to_coda)


def _lonely_ending(table: Table) -> None:
    table.wrong(
        f"{table.name} has a first ending and no other.",
        ENDINGS[0],
        at="key",
        found=ENDINGS[0],
        expected="a second ending, or one for the last time",
        hint='Add second = "| ... |" or last = "| ... |", or put its bars at the end of `bars`.',
    )


def _no_ending_before(table: Table, name: str, needed: str) -> None:
    table.wrong(
        f"{table.name} has {'an ending for the last time' if name == LAST else f'a {name} ending'}"
        f" and no {needed} one.",
        name,
        at="key",
        found=name,
        expected=f"{needed}, what is played at the other times",
        hint=f'Move the bars that it replaces from the end of `bars` to {needed} = "| ... |".',
    )


def _repeats(body: TypedBars) -> tuple[Repeat, ...]:
    return read_repeats(body.grid, body.wrong)


def _no_repeats(ending: TypedBars) -> None:
    """An ending is played once, straight through."""
    for bar in ending.grid:
        if bar.opens or bar.times:
            ending.wrong(
                TextError(
                    bar.offset,
                    "a repeat cannot stand in an ending.",
                    found="|:" if bar.opens else ":|",
                    expected="bars between |",
                    hint="Write the bars out.",
                )
            )


def _typed(table: Table, name: str, meter: Meter | None, most: int) -> TypedBars:
    text = table.get(name, _TEXT_OF_BARS, None, needed=True)
    if text is None:
        return TypedBars(table, (name,))
    after = name in (*ENDINGS, LAST)  # there a % has the section's bars before it
    grid = read_grid(text, meter, lambda error: table.text_error(error, name), most, after=after)
    return TypedBars(table, (name,), grid)


def _take_bars(found: object) -> str:
    if not isinstance(found, str):
        raise values.WrongValueError
    if all(line.strip() in {"", "|"} for line in found.split("\n")):
        raise values.WrongValueError(instead="is empty")
    return found


_TEXT_OF_BARS = values.Value("bars in quotes", _take_bars, '"| F | C7 |"')
