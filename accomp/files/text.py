"""Text from files made fit for one line or for XML; counts and lists in words.

Conventions: on one line, control characters, line and paragraph separators and lone surrogates
become a space. For XML, characters that XML 1.0 forbids (most control characters, lone surrogates)
become U+FFFD, the replacement character; the serialiser escapes the rest.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Literal
from unicodedata import category

# Among words that contain "and" themselves, a comma shows where the last word begins.
BeforeLast = Literal[" and ", " or ", ", and "]
_UNFIT = {"Cc", "Cs", "Zl", "Zp"}
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
