"""Every number of a lead sheet is read here, with limits on its length and value.

Conventions: a number is written with the digits 0 to 9, a sign and a decimal point. Exponents,
superscripts and very many digits are refused: they may cost hours to compute. Decimals are rounded
to millionths. A wrong number raises `WrongNumberError`; the reader that knows the place in the file
turns it into a problem.
"""

from __future__ import annotations

import re
from fractions import Fraction

_NUMBER = re.compile(r"[+-]?(?:[0-9]{1,12}(?:\.[0-9]{0,20})?|\.[0-9]{1,20})")
# Finds text that may be meant as a number, readable or not, inside a longer text.
_DIGITS = "\\d⁰¹²³⁴-⁹₀-₉"
NUMBER_WORD = rf"[{_DIGITS}]+(?:[.][{_DIGITS}]+)?(?:[eE][+-]?[{_DIGITS}]+)?"
FASTEST = 100_000  # tempo in a file; a tune itself has a lower limit
_ROUNDED = 10**6
_FINEST = 10**15  # parts of a whole note: far finer than music, and still fast to compute with
_LONGEST_BAR = 100  # whole notes, far longer than any bar
_SHOWN = 40  # characters of what was found


class WrongNumberError(ValueError):
    """A number that is refused; the message says what it counts (`what`).

    `line` (from 1, 0 when unknown) and `offset` (in characters, from 0) are its place in the file.
    """

    def __init__(self, what: str, found: str, expected: str, line: int = 0) -> None:
        super().__init__(f"{what} must be {expected}, and this is {found}.")
        self.found, self.expected = found, expected
        self.line, self.offset = line, 0


class TooManyError(WrongNumberError):
    """There is too much of something, and the rest of the tune is not read."""

    def __init__(self, what: str, most: int) -> None:
        super().__init__(f"the number of {what}", "more", f"at most {most:,}")


def read_number(text: str, what: str, least: int, most: int, *, line: int = 0) -> Fraction:
    """The number from `least` to `most` in a text. Raises `WrongNumberError`."""
    return _read(text, what, least, most, f"a number from {least:,} to {most:,}", line)


def read_whole(text: str, what: str, least: int, most: int, *, line: int = 0) -> int:
    """The whole number from `least` to `most` in a text. Raises `WrongNumberError`."""
    expected = f"a whole number from {least:,} to {most:,}"
    number = _read(text, what, least, most, expected, line)
    if number.denominator != 1:
        raise WrongNumberError(what, _shown(text), expected, line)
    return int(number)


def time_in_bar(time: Fraction, *, line: int = 0) -> Fraction:
    """`time` in a bar, in whole notes, unchanged. Raises `WrongNumberError` when it is too long or
    too fine: sums of note lengths without a common measure get ever more digits.
    """
    if time > _LONGEST_BAR:
        expected = f"at most {_LONGEST_BAR} whole notes long"
        raise WrongNumberError("a bar", "longer", expected, line)
    if time.denominator > _FINEST:
        expected = "sums of halves, quarters, triplets and the like"
        raise WrongNumberError(
            "the note lengths of a bar", "far too fine a division", expected, line
        )
    return time


def _read(text: str, what: str, least: int, most: int, expected: str, line: int) -> Fraction:
    word = text.strip()
    if _NUMBER.fullmatch(word) is None:
        raise WrongNumberError(what, _shown(text), expected, line)
    number = Fraction(int(word)) if word.isdecimal() else _rounded(word)
    if not least <= number <= most:
        raise WrongNumberError(what, _shown(text), expected, line)
    return number


def _rounded(word: str) -> Fraction:
    return Fraction(round(Fraction(word) * _ROUNDED), _ROUNDED)


def _shown(text: str) -> str:
    """The text found, in quotes, short enough to print."""
    word = " ".join(text.split())
    return repr(word if len(word) <= _SHOWN else f"{word[: _SHOWN - 3]}...")
