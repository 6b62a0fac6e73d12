"""Text from files as one line of data, and as text of an XML file; numbers and lists
of things.

Conventions: a control sign, a line or paragraph separator and half of a surrogate pair become a
space; every other sign is the writer's own business. A sign that XML 1.0 forbids (most control
characters, lone surrogates) becomes U+FFFD, the replacement mark; what goes into XML is escaped by
the serialiser.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Literal
from unicodedata import category

# After words that have an "and" of their own, a comma says where the last one begins.
Between = Literal[" and ", " or ", ", and "]
_UNFIT = {"Cc", "Cs", "Zl", "Zp"}
# Source: "Char" in Extensible Markup Language (XML) 1.0, fifth edition, section 2.2.
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def one_line(text: str) -> str:
    """The text on one line, fit to be encoded and shown."""
    return "".join(" " if category(sign) in _UNFIT else sign for sign in text).strip()


def xml_text(text: str) -> str:
    """`text` with every sign that XML cannot hold replaced by U+FFFD."""
    return _NOT_XML.sub("\ufffd", text)


def word_list(words: Iterable[str], between: Between = " and ") -> str:
    """One word or more as one says them: "C, F and G7"; `between` stands before the last one."""
    *others, last = words
    return f"{', '.join(others)}{between}{last}" if others else last


def counted(number: int, one: str, several: str = "") -> str:
    """How many of something: "1 bar", "3 bars"; `several` where it takes more than an s."""
    return f"{number} {one if number == 1 else several or f'{one}s'}"
