"""The desk's answers: JSON that can always be sent, whatever values a file has.

Conventions: values that JSON has go as they are. Other values of TOML or of a file's name (a date,
an infinite number, a number of thousands of digits, half of a surrogate pair) go as a text.
"""

from __future__ import annotations

import json
from typing import Any

from starlette.responses import JSONResponse

from accomp.files.values import short

# Headers of what never changes under its address, which has its hash: a browser may keep it.
KEPT = {"cache-control": "private, max-age=31536000, immutable"}
_MANY_BITS = 1000  # Python itself refuses to print some longer numbers


class Reply(JSONResponse):
    """An answer of the desk: JSON."""

    def render(self, content: Any) -> bytes:
        """The bytes of the answer."""
        return json_text(content).encode()


def json_text(value: Any) -> str:
    """A value as JSON."""
    try:
        text = _dumped(value)
        text.encode()
    except (TypeError, ValueError):
        text = _dumped(_plain(value))
    return text


def _dumped(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def _plain(value: Any) -> Any:
    match value:
        case None | bool():
            return value
        case int() if value.bit_length() < _MANY_BITS:
            return value
        case float() if value - value == 0:  # neither infinite nor NaN
            return value
        case str():
            return value.encode(errors="replace").decode()
        case dict():
            return {_plain(str(key)): _plain(one) for key, one in value.items()}
        case list() | tuple():
            return [_plain(one) for one in value]
    return short(value)
