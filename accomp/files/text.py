"""Text from files made fit for one line or for XML; counts, lists and frets in words.

Conventions: on one line, control characters, line and paragraph separators and lone surrogates
become a space. For XML, characters that XML 1.0 forbids (most control characters, lone surrogates)
become U+FFFD, the replacement character; the serialiser escapes the rest.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Literal
from unicodedata import category

ORDINALS = (
    "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth",
    "eleventh", "twelfth",
)  # fmt: skip
# Among words that contain "and" themselves, a comma shows where the last word begins.
BeforeLast = Literal[" and ", " or ", ", and "]
# Control characters, line and paragraph separators; on one line lone surrogates are unfit, too.
CONTROL = frozenset({"Cc", "Zl", "Zp"})
_UNFIT = CONTROL | {"Cs"}
# Source: "Char" in Extensible Markup Language (XML) 1.0, fifth edition, section 2.2.
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def one_line(text: str) -> str:
    """The text on one line, without characters that cannot be encoded or shown."""
    return "".join(" " if category(sign) in _UNFIT else sign for sign in text).strip()


def xml_text(text: str) -> str:
    """`text` with every character that XML forbids replaced by U+FFFD."""
    return _NOT_XML.sub("\ufffd", text)


def word_list(words: Iterable[str], between: BeforeLast = " and ") -> str:
    """One or more words as a list: "C, F and G7"; `between` comes before the last one."""
    *others, last = words
    return f"{', '.join(others)}{between}{last}" if others else last


def counted(number: int, one: str, several: str = "") -> str:
    """A count in words: "1 bar", "3 bars"; `several` is the plural when an s is not enough."""
    return f"{number} {one if number == 1 else several or f'{one}s'}"


def frets_text(frets: Iterable[int | None]) -> str:
    """A shape as players write it: "0 2 3 3", x for a string that is not sounded."""
    return " ".join("x" if fret is None else str(fret) for fret in frets)
