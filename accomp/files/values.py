"""Kinds of value that a key may have: how each is checked, and how a wrong one is reported.

Conventions: `expected` completes the sentence "must be ...": "a whole number from 1 to 36". `take`
raises `WrongValueError` for a wrong value. A text may have any character but control characters.
NaN and infinities are no numbers.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, time
from typing import Generic, TypeVar

from accomp.errors import InputError, Problem
from accomp.files.text import CONTROL
from accomp.files.toml import nearest

MOST_CHARACTERS = 1000
_FEW = 12  # fewer known words than this are listed in a message
_MANY_BITS = 200  # Python itself refuses to print much longer numbers

T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)
W = TypeVar("W", bound=str)


class WrongValueError(ValueError):
    """A value that is refused.

    `hint` says what to do (empty: write the kind's example). `instead` completes the sentence "and
    this ..." in place of "is <value>". `found` replaces the value itself in the problem. `offset`
    is the wrong character of a text.
    """

    def __init__(
        self, hint: str = "", *, instead: str = "", found: str = "", offset: int | None = None
    ) -> None:
        super().__init__(hint)
        self.hint, self.instead, self.found, self.offset = hint, instead, found, offset


@dataclass(frozen=True, slots=True)
class Value(Generic[T_co]):
    """A kind of value; `take` returns the value in its Python type, `example` shows one."""

    expected: str
    take: Callable[[object], T_co]
    example: str = "..."


def text(*, empty: bool = False, lines: bool = False, example: str = "A Name") -> Value[str]:
    """A text; with `lines` it may have several lines, which are joined."""

    def take(found: object) -> str:
        if not isinstance(found, str):
            raise WrongValueError
        if lines:
            found = " ".join(found.split())
        if not found.strip() and not empty:
            raise WrongValueError(instead="is empty", found=repr(found))
        if len(found) > MOST_CHARACTERS:
            raise WrongValueError(
                f"Shorten it to {MOST_CHARACTERS} characters.",
                instead=f"has {len(found)} characters",
            )
        offset = control_character(found)
        if offset is not None:
            code = f"U+{ord(found[offset]):04X}"
            raise WrongValueError(
                "Take it out.",
                instead=f"holds the control character {code}",
                found=code,
                offset=offset,
            )
        return found

    return Value("a text in quotes", take, f'"{example}"')


def control_character(text: str) -> int | None:
    """Offset of the first control character or line break, None without one."""
    for offset, sign in enumerate(text):
        if unicodedata.category(sign) in CONTROL:
            return offset
    return None


def number(
    least: float | None = None,
    most: float | None = None,
    *,
    above: bool = False,
    unit: str = "",
    example: str = "...",
) -> Value[float]:
    """A number from `least` (with `above`, more than it) to `most`."""

    def take(found: object) -> float:
        return float(_within(found, (int, float), least, most, above))

    return Value(f"a number{unit}{_range(least, most, above)}", take, example)


def whole(
    least: int | None = None,
    most: int | None = None,
    *,
    above: bool = False,
    example: str = "...",
) -> Value[int]:
    """A whole number from `least` (with `above`, more than it) to `most`."""

    def take(found: object) -> int:
        return int(_within(found, (int,), least, most, above))

    return Value(f"a whole number{_range(least, most, above)}", take, example)


def _range(least: float | None, most: float | None, above: bool) -> str:
    if least is None:
        return ""
    if above:
        return f" above {_plain(least)}" + (f", at most {_plain(most)}" if most is not None else "")
    return (
        f" from {_plain(least)} to {_plain(most)}"
        if most is not None
        else f" of {_plain(least)} or more"
    )


def _plain(limit: float) -> str:
    """1000000 for 1e6."""
    return str(int(limit)) if limit == int(limit) else str(limit)


def _within(
    found: object,
    types: tuple[type, ...],
    least: float | None,
    most: float | None,
    above: bool,
) -> int | float:
    if isinstance(found, str):
        raise WrongValueError("Write it without quotes." if _numeric(found) else "")
    if isinstance(found, bool) or not isinstance(found, types):
        raise WrongValueError
    assert isinstance(found, (int, float))
    if isinstance(found, float) and not math.isfinite(found):
        raise WrongValueError
    if least is not None and (found < least or (above and found == least)):
        raise WrongValueError("" if above else f"The nearest is {_plain(least)}.")
    if most is not None and found > most:
        raise WrongValueError(f"The nearest is {_plain(most)}.")
    if isinstance(found, int) and found.bit_length() > _MANY_BITS:
        raise WrongValueError
    return found


def _numeric(text: str) -> bool:
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False


def flag() -> Value[bool]:
    """True or false."""

    def take(found: object) -> bool:
        if isinstance(found, bool):
            return found
        right = isinstance(found, str) and found in {"true", "false"}
        raise WrongValueError("Write it without quotes." if right else "")

    return Value("true or false", take, "true")


def word(known: Iterable[W], what: str = "") -> Value[W]:
    """One of the known words; `what` describes them where they are too many to list."""
    words = tuple(known)

    def take(found: object) -> W:
        one = one_of(found, words)
        if one is None:
            raise WrongValueError(did_you_mean(found, words))
        return one

    listed = " or ".join(f'"{one}"' for one in words)
    return Value(listed if len(words) < _FEW else what, take, f'"{words[0]}"')


def one_of(found: object, words: Iterable[W]) -> W | None:
    """The known word that equals `found`, None without one."""
    return next((one for one in words if isinstance(found, str) and one == found), None)


def parsed(
    parse: Callable[[str], T], expected: str, example: str, known: Iterable[str] = ()
) -> Value[T]:
    """A text that `parse` accepts; for any other text `parse` raises `ValueError`."""

    def take(found: object) -> T:
        if not isinstance(found, str):
            raise WrongValueError
        try:
            return parse(found)
        except WrongValueError:
            raise
        except ValueError:
            raise WrongValueError(did_you_mean(found.strip(), known)) from None

    return Value(expected, take, f'"{example}"')


def did_you_mean(found: object, known: Iterable[str]) -> str:
    """A hint at the most similar known word, empty when none is similar."""
    close = nearest(found, known) if isinstance(found, str) and found else None
    return f"Did you mean {str(close)!r}?" if close else ""


def short(value: object) -> str:
    """A value as a text that is short enough to print."""
    match value:
        case bool():
            return "true" if value else "false"
        case int() if value.bit_length() > _MANY_BITS:
            return "a number of very many digits"
        case list():
            return "[...]" if value else "[]"
        case dict():
            return "{...}" if value else "{}"
    text = str(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


def described(value: object) -> str:
    """A value as a message names it: the value itself, or its sort for a list or table."""
    match value:
        case str():
            return repr(short(value))
        case list():
            return "a list"
        case dict():
            return "a table"
        case None | bool() | int() | float() | tuple() | bytes() | date() | time():
            return short(value)
    # Of another library's number the sign alone would say that it is what it must be.
    return f"{short(value)}, of type {type(value).__name__}"


def must_be(expected: str, found: object, instead: str = "") -> str:
    """The sentence about a wrong value, without what it is the value of.

    `instead` replaces "is <value>" at its end.
    """
    return f"must be {expected}, and this {instead or f'is {described(found)}'}."


def wrong_setting(
    setting: str, expected: str, found: object, instead: str = "", hint: str = ""
) -> Problem:
    """The problem of a setting that has a wrong value."""
    message = must_be(expected, found, instead)
    return Problem(message, "", 0, 0, short(found), expected, hint, setting)


def setting_taken(setting: str, kind: Value[T], found: object) -> T:
    """The value of a setting. Raises `InputError` for a wrong one."""
    try:
        return kind.take(found)
    except WrongValueError as error:
        problem = wrong_setting(setting, kind.expected, found, error.instead, error.hint)
        raise InputError(problem) from None
