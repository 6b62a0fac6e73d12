"""TOML 1.0 files with the place of every key and value, so that errors can point at them.

Conventions: lines and columns count from 1 in characters; a path is a tuple of keys and list
indices, `("chorus", 0, "style")`. tomllib reads the values and checks the grammar;
`accomp.files.places` only finds places, and so can trust that the text is valid.
"""

from __future__ import annotations

import bisect
import difflib
import itertools
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, Literal

from accomp.errors import InputError, Problem
from accomp.files.places import BARE_KEY, Places, find_places, raw_offsets
from accomp.files.plain import NotPlainError, open_plain

TomlPath = tuple[str | int, ...]

MOST_BYTES = 1_000_000

ENDING = ".toml"
# A tune's melody lies beside it: porch.toml, porch-melody.musicxml.
MELODY_ENDING = "-melody.musicxml"
LEADSHEET_ENDINGS = (".musicxml", ".xml", ".mxl", ".abc")

# Finding a similar name is slow: of thousands of names only the first are compared.
_MOST_NAMES = 500

_ESCAPES = {'"': '\\"', "\\": "\\\\", "\b": "\\b", "\t": "\\t", "\n": "\\n", "\r": "\\r"}

# A key of n names joined by dots costs memory in proportion to n squared, in a file of this size
# more than a machine has. The look-behind and the possessive `+` keep this search linear.
_MANY_DOTS = re.compile(
    r"""(?<![\w"'-])(?:(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){40}"""
)

# Python itself refuses to read whole numbers of so many digits, since that is slow.
_MANY_DIGITS = re.compile(r"[0-9][0-9_]{4299,}")


@dataclass(frozen=True)
class Document:
    """A TOML file: its `data` from tomllib, the `file` name, the `text` and places in it."""

    data: dict[str, Any]
    file: str
    text: str
    places: Places
    _strings: dict[TomlPath, list[int]] = field(default_factory=dict, repr=False, compare=False)

    def place(self, *path: str | int) -> tuple[int, int]:
        """Line and column of the value at `path`, or of the nearest thing around it."""
        return self._nearest(self.places.values, path)

    def key_place(self, *path: str | int) -> tuple[int, int]:
        """Line and column of the key at `path`, or of the nearest thing around it."""
        return self._nearest(self.places.keys, path)

    def inside(self, offset: int, *path: str | int) -> tuple[int, int]:
        """Line and column of character `offset` of the string value at `path`."""
        start = self.places.values.get(path)
        if start is None or self.text[start] not in "\"'":
            return self.place(*path)
        if path not in self._strings:  # kept: a tune asks for the place of every chord
            self._strings[path] = raw_offsets(self.text, start)
        offsets = self._strings[path]
        return self._line_column(offsets[min(max(offset, 0), len(offsets) - 1)])

    def problem(
        self,
        message: str,
        *path: str | int,
        at: int | Literal["key"] | None = None,
        found: str = "",
        expected: str = "",
        hint: str = "",
    ) -> Problem:
        """A `Problem` with the place of the value at `path`.

        With `at` the place is that of its "key", or of the character at this offset in its string.
        """
        if at is None:
            line, column = self.place(*path)
        else:
            line, column = self.key_place(*path) if at == "key" else self.inside(at, *path)
        return Problem(message, self.file, line, column, found, expected, hint)

    def _nearest(self, table: dict[TomlPath, int], path: TomlPath) -> tuple[int, int]:
        for length in range(len(path), 0, -1):
            for places in (table, self.places.keys, self.places.values):
                if path[:length] in places:
                    return self._line_column(places[path[:length]])
        return 1, 1

    def _line_column(self, offset: int) -> tuple[int, int]:
        line = bisect.bisect_right(self._line_starts, offset)
        return line, offset - self._line_starts[line - 1] + 1

    @cached_property
    def _line_starts(self) -> list[int]:
        return [0, *(match.end() for match in re.finditer("\n", self.text))]


def read_toml(path: Path) -> Document:
    """Read a TOML file. Raises `InputError` when it cannot be read, is too large or no TOML."""
    file = str(path)
    try:
        with open_plain(path) as stream:
            raw = stream.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise InputError(Problem("there is no such file.", file, hint=_similar(path))) from None
    except IsADirectoryError:
        raise InputError(Problem("this is a folder, and a file is needed here.", file)) from None
    except NotPlainError as error:
        message = f"this is {error.sort}, and a plain file is needed here."
        raise InputError(Problem(message, file, hint="Save it as a file first.")) from None
    except PermissionError:
        raise InputError(Problem("no permission to read this file.", file)) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(Problem(f"the file cannot be read ({reason}).", file)) from None
    if path.suffix.lower() in LEADSHEET_ENDINGS:
        raise InputError(
            Problem(
                "this is a lead sheet by its name.",
                file,
                found=path.suffix,
                expected="a file whose name ends in .toml",
                hint="Make a tune file of it first.",
                helps=("read_this_leadsheet",),
            )
        )
    if len(raw) > MOST_BYTES:
        raise InputError(
            Problem(
                f"the file is larger than {MOST_BYTES // 1000} kB, far more than any tune needs.",
                file,
                hint="Is it the right file?",
            )
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        good = raw[: error.start].decode("utf-8-sig", errors="ignore")
        line, column = place_after(good)
        raise InputError(
            Problem(
                f"the file is not UTF-8 text: byte 0x{raw[error.start]:02x} is out of place.",
                file,
                line,
                column,
                found=f"0x{raw[error.start]:02x}",
                expected="UTF-8",
                hint="Save it as UTF-8 in your editor.",
            )
        ) from None
    return parse_toml(text, file)


def parse_toml(text: str, file: str) -> Document:
    """Read TOML from a text. Raises `InputError` with line and column when it is not TOML."""
    text = text.replace("\r\n", "\n")
    if not text.strip():
        raise InputError(Problem("the file is empty.", file, 1, 1, expected="TOML"))
    if many := _MANY_DOTS.search(text):
        line, column = place_after(text[: many.start()])
        message = "this is a key of far too many names joined by dots."
        raise InputError(Problem(message, file, line, column, many[0][:40], "a plain key"))
    try:
        data = tomllib.loads(text)
        places = find_places(text)
    except RecursionError:
        message = "the file nests lists or tables far too deeply."
        raise InputError(Problem(message, file, 1, 1)) from None
    except ValueError as error:
        raise InputError(_toml_problem(error, text, file)) from None
    return Document(data, file, text, places)


def quoted(text: str) -> str:
    """A text as a TOML basic string."""
    signs = []
    for sign in text:
        if sign in _ESCAPES:
            signs.append(_ESCAPES[sign])
        elif ord(sign) < 32 or ord(sign) == 127:
            signs.append(f"\\u{ord(sign):04X}")
        else:
            signs.append(sign)
    return f'"{"".join(signs)}"'


def toml_key(name: str) -> str:
    """A key in TOML's syntax: in quotes where it needs them."""
    return name if BARE_KEY.fullmatch(name) else quoted(name)


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that is most similar to `word`, or None when none is similar."""
    table = {entry.lower(): entry for entry in itertools.islice(known, _MOST_NAMES)}
    found = difflib.get_close_matches(word.lower()[:80], table, n=1, cutoff=0.6)
    return next((table[one] for one in found), None)


def place_after(text: str) -> tuple[int, int]:
    """Line and column (from 1) right after a text."""
    return text.count("\n") + 1, len(text) - text.rfind("\n")


def _toml_problem(error: ValueError, text: str, file: str) -> Problem:
    """An error of tomllib as a problem, with the place moved out of the sentence."""
    if many := _MANY_DIGITS.search(text) if "digits" in str(error) else None:
        line, column = place_after(text[: many.start()])
        message = "this number has far too many digits."
        return Problem(message, file, line, column, f"{many[0][:40]}...", "a shorter number")
    match = re.search(r"^(.*) \(at (?:line (\d+), column (\d+)|end of document)\)$", str(error))
    if match is None:
        return Problem(f"this is not TOML: {error}.", file, 1, 1, expected="TOML")
    if match[2]:
        line, column = int(match[2]), int(match[3])
    else:
        line, column = place_after(text)
    lines = text.split("\n")
    found = lines[line - 1].strip()[:40] if line <= len(lines) else ""
    where = f" in {found!r}" if found else ""
    message = f"this is not TOML: {match[1][0].lower()}{match[1][1:]}{where}."
    hint = 'Text stands in quotes: title = "A Tune".' if match[1] == "Invalid value" else ""
    return Problem(message, file, line, column, found, "TOML", hint)


def _similar(path: Path) -> str:
    """A hint at a file of a similar name in the same folder, "" without one."""
    try:
        names = [entry.name for entry in path.parent.iterdir()]
    except OSError:
        return ""
    close = nearest(path.name, names)
    return f"Did you mean {str(path.parent / close)!r}?" if close else ""
