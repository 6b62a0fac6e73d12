"""Text from files as one line of data, and as a string of a TOML file.

Conventions: a control sign, a line or paragraph separator and half of a surrogate pair become a
space; every other sign is the writer's own business.
"""

from __future__ import annotations

from unicodedata import category

_UNFIT = {"Cc", "Cs", "Zl", "Zp"}
# Source: "Strings", TOML 1.0.
_ESCAPES = {'"': '\\"', "\\": "\\\\", "\b": "\\b", "\t": "\\t", "\n": "\\n", "\r": "\\r"}


def one_line(text: str) -> str:
    """The text on one line, fit to be encoded and shown."""
    return "".join(" " if category(sign) in _UNFIT else sign for sign in text).strip()


def toml_string(text: str) -> str:
    """A TOML basic string that reads back as `text`."""
    signs = []
    for sign in text:
        if sign in _ESCAPES:
            signs.append(_ESCAPES[sign])
        elif ord(sign) < 32 or ord(sign) == 127:
            signs.append(f"\\u{ord(sign):04X}")
        else:
            signs.append(sign)
    return f'"{"".join(signs)}"'
