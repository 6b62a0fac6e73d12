"""The offsets of keys and values in a TOML text.

Conventions: offsets count characters from 0, in a text that is known to be valid TOML 1.0 with
`\\n` line ends. The offset of a value is its first character; of a string, the opening quote.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

_SPACE = re.compile(r"[ \t]*")
_GAP = re.compile(r"(?:[ \t\n]+|#[^\n]*)*")
BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_BARE_VALUE = re.compile(r"[^,\]}\n#]*")
_ESCAPES = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", "e": "\x1b"}
_TRIMMED = re.compile(r"\\[ \t]*\n[ \t\n]*")


@dataclass
class Places:
    """Offsets of keys and of values, by path (keys and list indices)."""

    keys: dict[tuple[str | int, ...], int] = field(default_factory=dict)
    values: dict[tuple[str | int, ...], int] = field(default_factory=dict)


def find_places(text: str) -> Places:
    """Offsets of everything in a valid TOML text."""
    walk = _Walk(text)
    walk.document()
    return walk.places


def value_end(text: str, start: int) -> int:
    """Offset of the end of the value that begins at `start` of a valid TOML text."""
    walk = _Walk(text)
    walk.at = start
    walk.value(())
    return start + len(text[start : walk.at].rstrip())


def raw_offsets(text: str, start: int) -> list[int]:
    """Offsets in the text of each character of the decoded string that opens at `start`.

    There is one entry more than characters: the last is the offset of the closing quotes.
    """
    position, close = _opening(text, start)
    position = _past_trimmed(text, position, close)
    offsets = []
    while not _closes(text, position, close):
        offsets.append(position)
        position = _past_trimmed(text, _next(text, position, close)[0], close)
    return [*offsets, position]


def _opening(text: str, start: int) -> tuple[int, str]:
    """Offset of the first character inside the quotes that open at `start`, and closing quotes."""
    quote = text[start]
    if text.startswith(quote * 3, start):
        inside = start + 3
        return inside + (text[inside : inside + 1] == "\n"), quote * 3
    return start + 1, quote


def _closes(text: str, position: int, close: str) -> bool:
    """Whether the string ends here; an extra quote before the closing ones is still text."""
    if not text.startswith(close, position):
        return False
    return len(close) == 1 or not text.startswith(close + close[0], position)


def _past_trimmed(text: str, position: int, close: str) -> int:
    """The offset after line ends (and space) that a backslash removes from a long string."""
    if close == '"""':
        while trimmed := _TRIMMED.match(text, position):
            position = trimmed.end()
    return position


def _next(text: str, position: int, close: str) -> tuple[int, str]:
    """The offset after the character at `position` of a string, and the decoded character."""
    if close[0] == "'" or text[position] != "\\":
        return position + 1, text[position]
    sign = text[position + 1]
    width = {"u": 4, "U": 8, "x": 2}.get(sign)
    if width:
        digits = text[position + 2 : position + 2 + width]
        return position + 2 + width, chr(int(digits, 16))
    return position + 2, _ESCAPES.get(sign, sign)


class _Walk:
    """One pass over the text; each method starts at `self.at` and moves it past what it reads."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.places = Places()
        self.counts: dict[tuple[str | int, ...], int] = {}

    def document(self) -> None:
        table: tuple[str | int, ...] = ()
        self.skip(_GAP)
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                table = self.header()
            else:
                self.pair(table)
            self.skip(_GAP)

    def skip(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        assert match is not None
        self.at = match.end()
        return match[0]

    def header(self) -> tuple[str | int, ...]:
        many = self.text.startswith("[[", self.at)
        self.at += 2 if many else 1
        parts = self.key()
        self.skip(_SPACE)
        self.at += 2 if many else 1
        path: tuple[str | int, ...] = ()
        for index, (name, offset) in enumerate(parts):
            path += (name,)
            self.places.keys.setdefault(path, offset)
            if many and index == len(parts) - 1:
                self.counts[path] = self.counts.get(path, 0) + 1
            if path in self.counts:
                path += (self.counts[path] - 1,)
                self.places.keys.setdefault(path, offset)
        return path

    def key(self) -> list[tuple[str, int]]:
        parts = []
        while True:
            self.skip(_SPACE)
            offset = self.at
            quoted = self.text[self.at] in "\"'"
            parts.append((self.string() if quoted else self.skip(BARE_KEY), offset))
            self.skip(_SPACE)
            if self.text[self.at : self.at + 1] != ".":
                return parts
            self.at += 1

    def pair(self, table: tuple[str | int, ...]) -> None:
        path = table
        for name, offset in self.key():
            path += (name,)
            self.places.keys.setdefault(path, offset)
        self.at += 1  # the equals sign
        self.skip(_SPACE)
        self.value(path)

    def value(self, path: tuple[str | int, ...]) -> None:
        self.places.values[path] = self.at
        first = self.text[self.at]
        if first in "\"'":
            self.string()
        elif first == "[":
            self.items("]", path)
        elif first == "{":
            self.items("}", path)
        else:
            self.skip(_BARE_VALUE)

    def items(self, close: str, path: tuple[str | int, ...]) -> None:
        self.at += 1
        index = 0
        while True:
            self.skip(_GAP)
            if self.text[self.at] == close:
                self.at += 1
                return
            if close == "]":
                self.value((*path, index))
            else:
                self.pair(path)
            index += 1
            self.skip(_GAP)
            if self.text[self.at] == ",":
                self.at += 1

    def string(self) -> str:
        position, close = _opening(self.text, self.at)
        position = _past_trimmed(self.text, position, close)
        signs = []
        while not _closes(self.text, position, close):
            position, sign = _next(self.text, position, close)
            signs.append(sign)
            position = _past_trimmed(self.text, position, close)
        self.at = position + len(close)
        return "".join(signs)
