"""Changing one value of a tune file's text: the rest stays as its author wrote it.

Conventions: comments, order, spacing and line ends outside the value are kept. The result is read
again and must have the value that was asked for and no other change, or nothing is changed. A path
is a tuple of keys, as `("title",)` or `("shapes", "C7")`; a value None takes the line out.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from typing import Any

from accomp.errors import InputError, Problem
from accomp.files.places import value_end
from accomp.files.toml import Document, parse_toml, quoted, toml_key

Plain = str | int | float | bool | Sequence[str]


def edited(text: str, path: tuple[str, ...], value: Plain | None) -> str:
    """The text with one value changed. Raises `InputError` where that cannot be done."""
    document = parse_toml(text, "")
    wanted = copy.deepcopy(document.data)
    _put(wanted, path, value)
    made = _made(document, path, value)
    try:
        if parse_toml(made, "").data == wanted:
            return made
    except InputError:
        pass
    name = ".".join(path)
    message = f"{name!r} is written in a way that cannot be changed from here."
    raise InputError(Problem(message, found=name, hint="Change it in the text itself."))


def toml_value(value: Plain) -> str:
    """A value as TOML."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, int | float):
        return repr(value)
    return f"[{', '.join(map(quoted, value))}]"


def _put(data: dict[str, Any], path: tuple[str, ...], value: Plain | None) -> None:
    *tables, name = path
    for table in tables:
        data = data.setdefault(table, {})
        if not isinstance(data, dict):
            raise InputError(Problem(f"{table!r} is no table.", found=table))
    if value is None:
        data.pop(name, None)
    else:
        data[name] = value if isinstance(value, str | int | float) else list(value)


def _made(document: Document, path: tuple[str, ...], value: Plain | None) -> str:
    text, places = document.text, document.places
    at = places.values.get(path)
    if at is not None:
        if value is not None:
            return text[:at] + toml_value(value) + text[value_end(text, at) :]
        begin = text.rfind("\n", 0, places.keys[path]) + 1
        end = text.find("\n", value_end(text, at))
        return text[:begin] + (text[end + 1 :] if end >= 0 else "")
    if value is None:
        return text
    line = f"{toml_key(path[-1])} = {toml_value(value)}\n"
    return _in_table(document, path[0], line) if len(path) > 1 else _at_top(document, path[0], line)


def _at_top(document: Document, name: str, line: str) -> str:
    """The text with a new line before its first table, in the order in which this program writes
    the keys of a tune."""
    from accomp.tune.read import TUNE_KEYS  # late: the desk opens without knowing music

    text, places = document.text, document.places
    before = [key for key in TUNE_KEYS[: TUNE_KEYS.index(name)] if (key,) in places.values]
    if before:
        return _after(text, value_end(text, places.values[before[-1],]), line)
    return line + text


def _in_table(document: Document, table: str, line: str) -> str:
    """The text with a new line at the end of a table; a new table comes at the end of the file."""
    text, places = document.text, document.places
    inside = [at for path, at in places.values.items() if path[0] == table and len(path) > 1]
    if inside:
        return _after(text, value_end(text, max(inside)), line)
    gap = "" if text.endswith("\n\n") or not text else "\n" if text.endswith("\n") else "\n\n"
    return f"{text}{gap}[{table}]\n{line}"


def _after(text: str, at: int, line: str) -> str:
    end = text.find("\n", at)
    return f"{text}\n{line}" if end < 0 else text[: end + 1] + line + text[end + 1 :]
