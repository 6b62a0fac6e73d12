"""The [sections] table and the form: bars as typed, in the order in which they are played.

Conventions: sections keep the order of the file; a section without a key or meter has the tune's.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from accomp.files.toml import TomlPath, nearest
from accomp.harmony import Key
from accomp.time import Meter
from accomp.tune.fields import control_character, key_field, meter_field, text_field
from accomp.tune.findings import Findings, short
from accomp.tune.grid import MOST_BARS, Fault, GridBar, read_grid

SECTION_KEYS = ("bars", "key", "meter", "style")


@dataclass(frozen=True, slots=True)
class TypedSection:
    """A section as typed: its bars are cut and counted, its `/` not yet followed."""

    name: str
    path: TomlPath
    grid: tuple[GridBar, ...]
    key: Key | None
    meter: Meter | None
    style: str | None


def read_sections(
    findings: Findings, key: Key | None, meter: Meter | None, tune_keys: tuple[str, ...]
) -> dict[str, TypedSection]:
    """All sections that can be understood, in file order."""
    table = findings.document.data.get("sections")
    if table is None:
        findings.wrong(
            "there are no sections.",
            expected="a table [sections] with the bars",
            hint='Add [sections] and under it A = "| F | C7 | F | F |".',
        )
        return {}
    if not isinstance(table, dict):
        findings.not_a('a table, as [sections] and under it A = "| F | C7 |"', table, ("sections",))
        return {}
    if not table:
        findings.wrong(
            "[sections] is empty.",
            "sections",
            found="[sections]",
            expected="at least one section",
            hint='Write under it A = "| F | C7 | F | F |".',
        )
    sections: dict[str, TypedSection] = {}
    most = MOST_BARS
    for name, value in table.items():
        if _misplaced(findings, name, value, tune_keys) or not _good_name(findings, name):
            continue
        sections[name] = _section(findings, name, value, key, meter, most)
        most -= len(sections[name].grid)
    return sections


def _misplaced(findings: Findings, name: str, value: object, tune_keys: tuple[str, ...]) -> bool:
    """Whether a key of the tune itself has slipped under [sections]."""
    if name not in tune_keys or (isinstance(value, str) and "|" in value):
        return False
    where = "before [sections], the first table"
    findings.wrong(
        f"{name!r} stands inside [sections], and belongs to the tune.",
        "sections",
        name,
        key=True,
        found=name,
        expected=where,
        hint=f"Move {name!r} up, to a line {where}: what follows a [table] belongs to it.",
    )
    return True


def _good_name(findings: Findings, name: str) -> bool:
    if name.strip() and control_character(name) is None and len(name) <= 100:
        return True
    findings.wrong(
        "this is not a name for a section.",
        "sections",
        name,
        key=True,
        found=short(name),
        expected="a short name on one line, as A or verse",
        hint="Give the section another name.",
    )
    return False


def _section(
    findings: Findings,
    name: str,
    value: object,
    key: Key | None,
    meter: Meter | None,
    most: int,
) -> TypedSection:
    path: TomlPath = ("sections", name)
    style: str | None = None
    if isinstance(value, dict):
        findings.unknown(path, SECTION_KEYS)
        if "key" in value:
            key = key_field(findings, (*path, "key"), value["key"])
        if "meter" in value:
            meter = meter_field(findings, (*path, "meter"), value["meter"])
        if "style" in value:
            style = text_field(findings, (*path, "style"), value["style"]) or None
        if "bars" not in value:
            findings.wrong(
                f"section {name!r} has no bars.",
                *path,
                found=short(value),
                expected="bars",
                hint='Write them as bars = "| F | C7 |".',
            )
            return TypedSection(name, path, (), key, meter, style)
        path = (*path, "bars")
        value = value["bars"]
    if not isinstance(value, str):
        findings.not_a('bars in quotes, as "| F | C7 |"', value, path)
        return TypedSection(name, path, (), key, meter, style)

    before = len(findings.problems)

    def complain(fault: Fault) -> None:
        findings.wrong(
            fault.message,
            *path,
            offset=fault.offset,
            found=fault.found,
            expected=fault.expected,
            hint=fault.hint,
        )

    grid = read_grid(value, meter, complain, most)
    if not grid and len(findings.problems) == before:
        findings.wrong(
            f"section {name!r} has no bars.",
            *path,
            found=short(value),
            expected="bars",
            hint="Write them as | F | C7 |.",
        )
    return TypedSection(name, path, grid, key, meter, style)


def read_form(findings: Findings, sections: Mapping[str, TypedSection]) -> tuple[str, ...]:
    """The names of the sections in the order played; unused sections become notices."""
    table = findings.document.data.get("sections")
    known = dict.fromkeys(table) if isinstance(table, dict) else {}
    value = findings.document.data.get("form")
    if value is None and "form" not in findings.document.data:
        form = list(sections)
    elif not isinstance(value, list):
        hint = 'Write form = ["A", "A", "B", "A"].' if isinstance(value, str) else ""
        findings.not_a("a list of section names", value, ("form",), hint)
        return ()
    elif not value:
        findings.wrong(
            "the form is empty.",
            "form",
            found="[]",
            expected="a list of section names",
            hint="Take the line out to play each section once, in the order they stand here.",
        )
        return ()
    else:
        form = [name for at, name in enumerate(value) if _form_name(findings, at, name, known)]
        if len(form) < len(value):
            return ()
        played = set(form)
        for name in sections:
            if name not in played:
                findings.notices.append(f"Section {name!r} is not in the form and is not played.")
    if sum(len(sections[name].grid) for name in form if name in sections) > MOST_BARS:
        findings.wrong(
            f"the form is longer than {MOST_BARS} bars, too many for a tune.",
            "form",
            expected=f"at most {MOST_BARS} bars",
            hint="Shorten it; how often the tune is played is asked for with --choruses.",
        )
        return ()
    return tuple(form)


def _form_name(findings: Findings, at: int, name: object, known: Collection[str]) -> bool:
    if not isinstance(name, str):
        findings.not_a("a list of section names in quotes", name, ("form", at))
        return False
    if name in known:
        return True
    close = nearest(name, known)
    findings.wrong(
        f"the form names a section {short(name)!r}, and there is none.",
        "form",
        at,
        found=short(name),
        expected=f"one of {', '.join(known)}" if known else "a section",
        hint=f"Did you mean {close!r}?"
        if close
        else f"Sections here are: {short(', '.join(known))}.",
    )
    return False
