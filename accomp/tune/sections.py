"""The [sections] table and the form: bars of chords, in the order in which they are played.

Conventions: a `/` at the start of a section carries on what was played before it; what that is
follows from the form, and where the form comes to the section from different chords it is an error.
"""

from __future__ import annotations

import contextlib
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from fractions import Fraction

from accomp.errors import ChordError
from accomp.files.toml import TomlPath, nearest
from accomp.harmony import Chord, Key, parse_chord
from accomp.time import Meter, Span
from accomp.tune.fields import control_character, key_field, meter_field, text_field
from accomp.tune.findings import Findings, short
from accomp.tune.grid import CARRY, MOST_BARS, NO_CHORD, Cell, Fault, GridBar, read_grid, token_hint
from accomp.tune.model import Bar, ChordSpan, Section

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


class Linker:
    """Turns typed sections into sections of chords, following each `/` to what it carries on."""

    def __init__(
        self, findings: Findings, sections: Mapping[str, TypedSection], form: tuple[str, ...]
    ) -> None:
        self.findings = findings
        self.sections = sections
        self.form = form
        self._read: dict[str, Chord | ChordError | None] = {}

    def link(self) -> dict[str, Section]:
        """The finished sections, in file order; what is wrong goes to the findings."""
        done = {}
        for name, typed in self.sections.items():
            bars = self._bars(typed)
            if typed.key and typed.meter:
                done[name] = Section(name, bars, typed.key, typed.meter, typed.style)
        return done

    def _bars(self, typed: TypedSection) -> tuple[Bar, ...]:
        place = self.findings.document.inside
        before = self._before(typed) if _carries(typed) else None
        bars = []
        for grid in typed.grid:
            share = (typed.meter.bar if typed.meter else Fraction(1)) / grid.count
            spans = []
            for cell in grid.cells:
                carried = cell.token.text == CARRY
                chord = before if carried else self._chord(typed, cell)
                before = chord
                span = Span(cell.start * share, (cell.start + cell.length) * share)
                line, column = place(cell.token.offset, *typed.path)
                spans.append(ChordSpan(chord, span, not carried, line, column))
            line, column = place(grid.offset, *typed.path)
            bars.append(Bar(tuple(spans), line, column))
        return tuple(bars)

    def _chord(self, typed: TypedSection, cell: Cell) -> Chord | None:
        text = cell.token.text
        try:
            return self._look_up(text)
        except ChordError as error:
            problem = error.problems[0]
            self.findings.wrong(
                problem.message,
                *typed.path,
                offset=cell.token.offset,
                found=short(text),
                expected=problem.expected or "a chord symbol, / or N.C.",
                hint=token_hint(text) or problem.hint,
            )
        return None

    def _look_up(self, text: str) -> Chord | None:
        """The chord of a token, None for N.C. Raises `ChordError`, each time anew."""
        if text not in self._read:
            try:
                self._read[text] = None if text == NO_CHORD else parse_chord(text)
            except ChordError as error:
                self._read[text] = error
        chord = self._read[text]
        if isinstance(chord, ChordError):
            raise chord
        return chord

    def _before(self, typed: TypedSection) -> Chord | None:
        """The chord that a section which starts with `/` carries on, by the form."""
        tokens = set()
        for at, name in enumerate(self.form):
            if name != typed.name:
                continue
            if at == 0:
                self._no_one_chord(typed, "the tune starts with /, and nothing stands before it.")
                return None
            tokens.add(self._last_token(at - 1))
        if not tokens and self.form:
            message = f"section {typed.name!r} starts with /, and the form never comes to it."
            self._no_one_chord(typed, message)
        if len(tokens) > 1:
            chords = short(" and ".join(sorted(filter(None, tokens))))
            message = (
                f"section {typed.name!r} starts with /, and the form comes to it from {chords}."
            )
            self._no_one_chord(typed, message)
        elif token := next(iter(tokens), None):
            with contextlib.suppress(ChordError):  # told where it stands
                return self._look_up(token)
        return None

    def _no_one_chord(self, typed: TypedSection, message: str) -> None:
        self.findings.wrong(
            message,
            *typed.path,
            offset=typed.grid[0].cells[0].token.offset,
            found=CARRY,
            expected="a chord symbol or N.C.",
            hint="Write the chord itself.",
        )

    def _last_token(self, at: int) -> str | None:
        """The last token but `/` that is played before the end of section `at` of the form."""
        for name in reversed(self.form[: at + 1]):
            typed = self.sections.get(name)
            for grid in reversed(typed.grid if typed else ()):
                for cell in reversed(grid.cells):
                    if cell.token.text != CARRY:
                        return cell.token.text
        return None


def _carries(typed: TypedSection) -> bool:
    return bool(typed.grid) and typed.grid[0].cells[0].token.text == CARRY
