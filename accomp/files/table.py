"""A typed table over TOML: values are asked for by name, and all problems are reported together.

Conventions: a path is relative to its table. A wrong value is noted with its place, and a usable
one is returned in its place, so that reading goes on; `Findings.check` raises all problems in file
order. A key that was never asked for is unknown. Reading ends at a few hundred problems: nobody
reads more, and a wrong file of a megabyte could hold half a million.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, TypeVar

from accomp.errors import InputError, Problem
from accomp.files import values
from accomp.files.toml import Document, TomlPath, read_toml
from accomp.files.values import Value, WrongValueError, did_you_mean, must_be, short

MOST_PROBLEMS = 200
# Finding a similar key is slow: in a file with thousands of wrong keys it is done for the first.
_MOST_HINTS = 100

T = TypeVar("T")
D = TypeVar("D")
W = TypeVar("W", bound=str)


class TextError(Exception):
    """A mistake inside a text, `offset` characters from its start.

    Readers raise it, or pass it to `Table.text_error`.
    """

    def __init__(
        self, offset: int, message: str, *, found: str = "", expected: str = "", hint: str = ""
    ) -> None:
        super().__init__(message)
        self.offset, self.message = offset, message
        self.found, self.expected, self.hint = found, expected, hint


class Findings:
    """The problems and notices of one document."""

    def __init__(self, document: Document) -> None:
        self.document = document
        self.notices: list[str] = []
        self._problems: dict[Problem, None] = {}  # a set that keeps its order

    def add(self, problem: Problem) -> None:
        """Note a problem. Raises `InputError` when there are more than `MOST_PROBLEMS`."""
        self._problems[problem] = None
        if len(self._problems) > MOST_PROBLEMS:
            message = f"more than {MOST_PROBLEMS} things are wrong; the file was not read further."
            last = Problem(message, problem.file, hint="Is it the right file?")
            raise InputError((*self.problems[:MOST_PROBLEMS], last))

    @property
    def problems(self) -> tuple[Problem, ...]:
        """All problems, in file order."""
        return tuple(sorted(self._problems, key=lambda one: (one.line, one.column)))

    def check(self) -> None:
        """Raise `InputError` with all problems, if there are any."""
        if self._problems:
            raise InputError(self.problems)


class Table:
    """One table of a document. See `accomp.files.values` for the kinds of value."""

    def __init__(self, findings: Findings, data: dict[str, Any], path: TomlPath = ()) -> None:
        self.findings, self.data, self.path = findings, data, path
        self._known: dict[str, None] = {}
        self._wrong: set[str | int] = set()
        self._inner: dict[TomlPath, Table] = {}

    @classmethod
    def of(cls, source: Document | Path) -> Table:
        """The top table of a document or of a file."""
        document = read_toml(source) if isinstance(source, Path) else source
        return cls(Findings(document), document.data)

    def __contains__(self, key: str) -> bool:
        return key in self.data

    @property
    def name(self) -> str:
        """The table's name in a message: "[strum]", "[sections.A]", "[[shape]]"."""
        return _heading(self.path, many=bool(self.path) and isinstance(self.path[-1], int))

    def sound(self, *keys: str) -> bool:
        """Whether all keys are given and right, so that their values can be compared."""
        return all(key in self.data and key not in self._wrong for key in keys)

    # Noting problems

    def wrong(self, message: str, *path: str | int, **more: Any) -> None:
        """Note a problem at a path; see `Document.problem` for the other arguments."""
        self._wrong |= set(path[:1])
        self.findings.add(self.findings.document.problem(message, *self.path, *path, **more))

    def must(
        self,
        expected: str,
        *path: str | int,
        hint: str,
        instead: str = "",
        found: str = "",
        offset: int | None = None,
    ) -> None:
        """Note that the value at a path is not `expected`, in a sentence that all files share.

        `instead` replaces "is <value>" at the end of the sentence; `found` replaces the value
        itself; `offset` is the wrong character of a text.
        """
        value = self._at(path)
        name = next(step for step in reversed(path) if isinstance(step, str))
        subject = f"each of {name[:60]!r}" if isinstance(path[-1], int) else repr(name[:60])
        self.wrong(
            f"{subject} {must_be(expected, value, instead)}",
            *path,
            found=found or short(value),
            expected=expected,
            hint=hint,
            at=offset,
        )

    def missing(self, key: str, expected: str, hint: str) -> None:
        """Note that a key is missing."""
        where = f" in {self.name}" if self.path else ""
        self.wrong(
            f"{key!r} is missing{where}: it must be {expected}.", expected=expected, hint=hint
        )

    def text_error(self, error: TextError, *path: str | int) -> None:
        """Note a mistake inside the text at a path."""
        self.wrong(
            error.message,
            *path,
            at=error.offset,
            found=short(error.found),
            expected=error.expected,
            hint=error.hint,
        )

    # Asking for values

    def get(self, key: str, value: Value[T], default: D, *, needed: bool = False) -> T | D:
        """The value of a key; `default` when it is missing (a problem if `needed`) or wrong."""
        self._known[key] = None
        if key in self.data:
            return self.take(value, default, key)
        if needed:
            self.missing(key, value.expected, self._add_line(f"{key} = {value.example}"))
        return default

    def take(self, value: Value[T], default: D, *path: str | int) -> T | D:
        """The value at a path as a kind of value; `default` when it is wrong."""
        try:
            return value.take(self._at(path))
        except WrongValueError as error:
            example = value.example
            if not isinstance(path[-1], int):
                example = f"{path[-1]} = {example}"
            self.must(
                value.expected,
                *path,
                hint=error.hint or f"Write {value.expected if '...' in example else example}.",
                instead=error.instead,
                found=error.found,
                offset=error.offset,
            )
            return default

    def several(
        self,
        key: str,
        each: Value[T],
        default: Sequence[T] | None = None,
        *,
        least: int = 1,
        most: int | None = None,
        example: str = "",
    ) -> tuple[T, ...]:
        """The right items of a list; without a `default` the list must be given."""
        self._known[key] = None
        number = "" if most is None else f" of {least if least == most else f'{least} to {most}'}"
        expected = f"a list{number}, each {each.expected}"
        example = example or f"{key} = [{', '.join([each.example] * min(least, 2))}]"
        if key not in self.data:
            if default is None:
                self.missing(key, expected, self._add_line(example))
            return tuple(default or ())
        found = self.data[key]
        if not isinstance(found, list):
            self.must(expected, key, hint=f"Write {example}.")
            return tuple(default or ())
        if len(found) < least or (most is not None and len(found) > most):
            instead = f"has {len(found)}" if found else "is empty"
            self.must(expected, key, hint=f"Write {example}.", instead=instead)
        taken = (self.take(each, None, key, index) for index in range(len(found)))
        return tuple(item for item in taken if item is not None)

    def _at(self, path: TomlPath) -> Any:
        found: Any = self.data
        for step in path:
            found = found[step]
        return found

    def _add_line(self, line: str) -> str:
        return f"Add a line {line} {f'under {self.name}' if self.path else 'at the top'}."

    def text(self, key: str, default: str | None = None) -> str:
        """A text on one line; without a `default` it must be given."""
        return self.get(key, values.text(), default or "", needed=default is None)

    def number(
        self, key: str, least: float, most: float, default: float | None = None, **more: Any
    ) -> float:
        """A number from `least` to `most`; without a `default` it must be given."""
        kind = values.number(least, most, **more)
        return self.get(key, kind, least if default is None else default, needed=default is None)

    def whole(
        self, key: str, least: int, most: int, default: int | None = None, **more: Any
    ) -> int:
        """A whole number from `least` to `most`; without a `default` it must be given."""
        kind = values.whole(least, most, **more)
        return self.get(key, kind, least if default is None else default, needed=default is None)

    def flag(self, key: str, default: bool = False) -> bool:
        """True or false."""
        return self.get(key, values.flag(), default)

    def word(self, key: str, known: Iterable[W], default: W, what: str = "") -> W:
        """One of the known words; `what` describes them where they are too many to list."""
        return self.get(key, values.word(known, what), default)

    # Tables in the table

    def named(self) -> dict[str, Any]:
        """The whole table, whose keys are names that the user chose."""
        self._known |= dict.fromkeys(self.data)
        return self.data

    def expects(self, keys: Iterable[str]) -> None:
        """Mark keys as known that another reader reads."""
        self._known |= dict.fromkeys(keys)

    def table(self, key: str, example: str = "") -> Table | None:
        """The table of a key, or None; with an `example` it must be given."""
        self._known[key] = None
        name = _heading((*self.path, key))
        if key not in self.data:
            if example:
                hint = f"Add {name} and under it {example}."
                self.wrong(f"{name} is missing.", expected=f"a table {name}", hint=hint)
            return None
        if not isinstance(self.data[key], dict):
            self.must(f"a table {name}", key, hint=f"Write {name} above its rows.")
            return None
        return self._inside(self.data[key], key)

    def tables(
        self, key: str, example: str = "", *, most: int | None = None, single: bool = False
    ) -> tuple[Table, ...]:
        """The tables [[key]], in order; with an `example` there must be at least one.

        With `single`, one table [key] is accepted, too.
        """
        self._known[key] = None
        name = _heading((*self.path, key), many=True)
        found = self.data.get(key, [])
        if single and isinstance(found, dict):
            return (self._inside(found, key),)
        if not isinstance(found, list) or not all(isinstance(item, dict) for item in found):
            hint = f"Write {name} above each of them."
            self.must(f"a list of tables {name}", key, hint=hint)
            return ()
        if not found and example:
            hint = f"Add {name} and under it {example}."
            self.wrong(f"{name} is missing.", expected=f"at least one table {name}", hint=hint)
        if most is not None and len(found) > most:
            self.wrong(
                f"there are {len(found)} tables {name}, and may be {most}.",
                key,
                most,
                found=str(len(found)),
                expected=f"at most {most}",
                hint="Take some out.",
            )
            found = found[:most]
        return tuple(self._inside(item, key, index) for index, item in enumerate(found))

    def _inside(self, data: dict[str, Any], *path: str | int) -> Table:
        if path not in self._inner:
            self._inner[path] = Table(self.findings, data, (*self.path, *path))
        return self._inner[path]

    def close(self) -> Findings:
        """Note every key that was never asked for, here and inside; returns all findings."""
        words = tuple(self._known)
        told = 0
        for key in self.data:
            if key in self._known:
                continue
            told += 1
            close = did_you_mean(key, words) if told <= _MOST_HINTS else ""
            listed = ", ".join(words)
            self.wrong(
                f"{key[:60]!r} is not known here.",
                key,
                at="key",
                found=key[:60],
                expected=listed,
                hint=close or f"Known are: {listed}.",
            )
        for table in self._inner.values():
            table.close()
        return self.findings

    def check(self) -> None:
        """Raise `InputError` with all problems of the document, if any, in file order."""
        self.close().check()


def _heading(path: TomlPath, *, many: bool = False) -> str:
    """The heading of a table, or of each of many tables."""
    name = f"[{'.'.join(step[:60] for step in path if isinstance(step, str))}]"
    return f"[{name}]" if many else name
