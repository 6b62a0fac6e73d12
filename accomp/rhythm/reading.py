"""Reading a style file: plain values, and rows under a count; every problem with its place.

Conventions: a path is a tuple of keys and list indices. What cannot be used is noted, and something
usable stands in for it, so that all problems are found at once.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from typing import Any

from accomp.errors import Problem
from accomp.files.toml import Document, nearest, unknown_keys
from accomp.rhythm.rows import NOTHING, Count, Row, RowError, read_count, under
from accomp.time import Meter

TomlPath = tuple[str | int, ...]

MOST_COUNTS = 256
_SHOWN = 40  # characters of a wrong value that a message repeats


class Reader:
    """A document, and the problems found in it so far."""

    def __init__(self, document: Document) -> None:
        self.document = document
        self.problems: list[Problem] = []

    def wrong(self, message: str, *path: str | int, **more: Any) -> None:
        """Note a problem at the value at `path`; see `Document.problem` for the rest."""
        more["found"] = str(more.get("found", ""))[:_SHOWN]
        self.problems.append(self.document.problem(message, *path, **more))

    def only(self, path: TomlPath, known: Iterable[str]) -> None:
        """Note every key of the table at a path that is not known."""
        self.problems += unknown_keys(self.document, path, known)

    # Plain values

    def value(self, path: TomlPath) -> Any:
        """What stands at a path, None where nothing does."""
        found: Any = self.document.data
        for part in path:
            if isinstance(part, str):
                found = found.get(part) if isinstance(found, dict) else None
            else:
                found = found[part]
        return found

    def table(self, path: TomlPath) -> bool:
        """Whether a table stands at a path; anything else there is a problem."""
        found = self.value(path)
        if found is None or isinstance(found, dict):
            return found is not None
        name = ".".join(str(part) for part in path)
        self.wrong(f"[{name}] is a table of rows.", *path, found=found, expected=f"[{name}]")
        return False

    def tables(self, key: str) -> list[TomlPath]:
        """The paths of the table or tables of a name: `[key]`, or `[[key]]` any number of times."""
        found = self.value((key,))
        if isinstance(found, list) and all(isinstance(item, dict) for item in found):
            return [(key, index) for index in range(len(found))]
        return [(key,)] if self.table((key,)) else []

    def text(self, *path: str | int, needed: bool = False) -> str:
        """A text on one line, empty (and a problem where it is needed) when there is none."""
        found = self.value(path)
        if found is None:
            if needed:
                self.wrong(f"{path[-1]!r} is missing.", *path, expected=f'{path[-1]} = "..."')
            return ""
        if not isinstance(found, str) or not found.strip():
            self.wrong(f"{path[-1]!r} is a text in quotes.", *path, found=found)
            return ""
        return " ".join(found.split())

    def number(self, path: TomlPath, least: float, most: float, default: float) -> float:
        """A number from `least` to `most`."""
        found = self.value(path)
        if found is None:
            return default
        if not is_number(found) or not least <= found <= most:
            self.wrong(
                f"{path[-1]} = {str(found)[:_SHOWN]} cannot be used.",
                *path,
                found=found,
                expected=f"a number from {least:g} to {most:g}",
                hint=f"It is a number from {least:g} to {most:g}.",
            )
            return default
        return float(found)

    def whole(self, path: TomlPath, least: int, most: int, default: int) -> int:
        """A whole number from `least` to `most`."""
        found = self.value(path)
        if isinstance(found, int) or found is None:
            return int(self.number(path, least, most, default))
        self.wrong(
            f"{path[-1]!r} is a whole number.",
            *path,
            found=found,
            expected=f"a whole number from {least} to {most}",
        )
        return default

    def wholes(self, path: TomlPath, least: int, most: int) -> tuple[int, ...]:
        """A list of different whole numbers, in order; empty where there is none."""
        found = self.value(path)
        if found is None:
            return ()
        good = isinstance(found, list) and all(
            isinstance(item, int) and not isinstance(item, bool) and least <= item <= most
            for item in found
        )
        if not good or not found:
            self.wrong(
                f"{path[-1]!r} is a list of whole numbers from {least} to {most}.",
                *path,
                found=found,
                expected=f"numbers from {least} to {most}, as {path[-1]} = [{least}, {most}]",
            )
            return ()
        return tuple(sorted(set(found)))

    def flag(self, path: TomlPath) -> bool:
        """True or false; false where nothing is written."""
        found = self.value(path)
        if found is None or isinstance(found, bool):
            return bool(found)
        self.wrong(f"{path[-1]!r} is true or false.", *path, found=found, expected="true or false")
        return False

    def word(self, path: TomlPath, known: Sequence[str], default: str, what: str) -> str:
        """One of the known words; `what` says in the message what it should have been."""
        found = self.value(path)
        if found is None:
            return default
        if isinstance(found, str) and found in known:
            return found
        close = nearest(str(found), known)
        few = ", ".join(known) if len(known) < 12 else ""
        self.wrong(
            f"{str(found)[:_SHOWN]!r} is not {what}.",
            *path,
            found=found,
            expected=few or what,
            hint=f"Did you mean {close!r}?" if close else few and f"Known are: {few}.",
        )
        return default

    # Rows under a count

    def count(self, path: TomlPath, meter: Meter) -> Count | None:
        """The count of the table at a path, None (and a problem) when it cannot be read."""
        text = self.value((*path, "count"))
        if not isinstance(text, str):
            name = ".".join(str(part) for part in path)
            self.wrong(
                f"[{name}] needs a count.",
                *path,
                *(("count",) if text is not None else ()),
                key=text is None,
                found="" if text is None else text,
                expected='count = "1 2 3 4"',
                hint='Write what a player says: count = "1 & 2 &".',
            )
            return None
        length = self.value((*path, "length"))
        counts = None
        if length is not None:
            if not is_number(length) or not 0 < length <= MOST_COUNTS:
                self.wrong(
                    f"a pattern of {str(length)[:_SHOWN]} counts cannot be played.",
                    *path,
                    "length",
                    found=length,
                    expected=f"a number of counts above 0, at most {MOST_COUNTS}",
                    hint="Leave `length` out: the pattern is then as long as the bars written.",
                )
                return None
            counts = Fraction(str(length)).limit_denominator(48)
        try:
            return read_count(text, meter, counts or None)
        except RowError as error:
            self.row_problem(error, *path, "count")
            return None

    def row_problem(self, error: RowError, *path: str | int) -> None:
        """Note a problem inside a row."""
        self.wrong(
            error.message,
            *path,
            offset=error.offset,
            found=error.found,
            expected=error.expected,
            hint=error.hint,
        )

    def row(
        self,
        path: TomlPath,
        count: Count | None,
        default: str,
        words: Sequence[str],
        known: Callable[[str], bool] | None = None,
    ) -> list[str]:
        """The words of one row; an unknown one is noted and `default` stands for it, as it does
        where the row is left out. `words` are the known ones, or examples of what `known` takes.
        Without a count the words are looked at all the same, and none are given."""
        text = self.value(path)
        usual = [default] * len(count.row) if count is not None else []
        if text is None:
            return usual
        if not isinstance(text, str):
            self.wrong(f"{path[-1]!r} is a row of words in quotes.", *path, found=text)
            return usual
        try:
            found = Row.split(text).words if count is None else under(text, count)
        except RowError as error:
            self.row_problem(error, *path)
            return usual
        known = known or words.__contains__
        bad = {word for word in found if word.text != NOTHING and not known(word.text)}
        for word in sorted(bad, key=lambda word: word.offset):
            close = nearest(word.text, words)
            listed = ", ".join(words)
            self.wrong(
                f"{word.text[:_SHOWN]!r} is not a word of the row {path[-1]!r}.",
                *path,
                offset=word.offset,
                found=word.text,
                expected=listed,
                hint=f"Did you mean {close!r}?" if close else f"Known are: {listed}.",
            )
        if count is None:
            return []
        return [default if word in bad else word.text for word in found]


def is_number(value: object) -> bool:
    """Whether a TOML value is a finite number (true and false are none)."""
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)
