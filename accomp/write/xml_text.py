"""Elements with text that may come from a user's file.

Conventions: a sign that XML 1.0 forbids (most control characters, lone surrogates) becomes
U+FFFD, the replacement mark; everything else goes in as data and is escaped by the serialiser.
"""

from __future__ import annotations

import re

from lxml import etree

# Source: "Char" in Extensible Markup Language (XML) 1.0, fifth edition, section 2.2.
_FORBIDDEN = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def clean(text: str) -> str:
    """`text` with every sign that XML cannot hold replaced by U+FFFD."""
    return _FORBIDDEN.sub("\ufffd", text)


def add(
    parent: etree._Element, tag: str, content: str = "", /, **attributes: str
) -> etree._Element:
    """A new last child of `parent`, with its text content and attributes."""
    element = etree.SubElement(parent, tag, attributes)
    if content:
        element.text = content
    return element
