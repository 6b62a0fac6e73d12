"""Rows of words that stand under a spoken count.

Conventions: words are separated by spaces; `|` is a bar line; offsets are characters from the start
of the text. Places are exact fractions of a whole note from the start of the pattern. A count says
one number for each unit of the meter's lower figure (6/8 is counted 1 to 6, 2/2 in halves), `e &
a` for the quarter places after it and `trip let` for its thirds.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from accomp.files.table import TextError
from accomp.time import Meter

BETWEEN = {
    "e": Fraction(1, 4),
    "trip": Fraction(1, 3),
    "&": Fraction(1, 2),
    "let": Fraction(2, 3),
    "a": Fraction(3, 4),
}
BAR_LINE = "|"
NOTHING = "."


@dataclass(frozen=True, slots=True)
class Word:
    """A word of a row with the bar it stands in (from 0)."""

    text: str
    offset: int
    bar: int


@dataclass(frozen=True, slots=True)
class WordRow:
    """The words of one row, and how many bars its bar lines make (at least one)."""

    words: tuple[Word, ...]
    bars: int

    @classmethod
    def split(cls, text: str) -> WordRow:
        """Split a row; a bar line at either end closes nothing. Raises `TextError`."""
        words: list[Word] = []
        bar = 0
        open_bar = False  # whether something stands since the last bar line
        for match in re.finditer(r"\||[^\s|]+", text):
            if match[0] != BAR_LINE:
                words.append(Word(match[0], match.start(), bar))
                open_bar = True
            elif open_bar:
                bar, open_bar = bar + 1, False
            elif words:
                raise TextError(
                    match.start(),
                    "nothing stands between two bar lines.",
                    found=BAR_LINE,
                    expected="a count",
                    hint="Write a silent bar as a 1 with '.' under it.",
                )
        return cls(tuple(words), bar + 1 if open_bar else max(bar, 1))

    def __iter__(self) -> Iterator[Word]:
        return iter(self.words)

    def __len__(self) -> int:
        return len(self.words)


@dataclass(frozen=True, slots=True)
class Count:
    """A spoken count: where each of its words falls, and the length of the whole."""

    row: WordRow
    places: tuple[Fraction, ...]
    length: Fraction


def read_count(text: str, meter: Meter, counts: Fraction | None = None) -> Count:
    """Read a spoken count. Raises `TextError`.

    Without `counts` the pattern is as long as the bars written; with it, `counts` units of the
    meter long, and then it is counted straight through without bar lines.
    """
    row = WordRow.split(text)
    if not row.words:
        raise TextError(0, "the count is empty.", expected="a count such as '1 & 2 &'")
    if counts is not None and row.bars > 1:
        raise TextError(
            row.words[-1].offset,
            "a count with a `length` has no bar lines.",
            found=BAR_LINE,
            hint="Leave out either the bar lines or `length`.",
        )
    most = Fraction(meter.count) if counts is None else counts
    where = f"a bar of {meter}" if counts is None else f"the pattern's length of {counts}"
    starts: list[Fraction] = []
    number, bar = 0, -1
    for word in row:
        if word.bar != bar:
            number, bar = 0, word.bar
        if re.fullmatch(r"[0-9]{1,3}", word.text):
            spoken = int(word.text)
            if spoken < 1 or spoken - 1 >= most:
                raise TextError(
                    word.offset,
                    f"count {word.text} lies outside {where}.",
                    found=word.text,
                    expected=f"1 to {-(-most.numerator // most.denominator)}",
                )
            if spoken <= number:
                raise TextError(
                    word.offset,
                    f"count {word.text} comes after {number} in the same bar.",
                    found=word.text,
                    expected="a higher number",
                    hint="A new bar begins with `|`.",
                )
            number = spoken
            at = Fraction(number - 1)
        elif word.text in BETWEEN:
            if number == 0:
                raise TextError(
                    word.offset,
                    f"{word.text!r} has no number before it in its bar.",
                    found=word.text,
                    expected="a number",
                    hint=f"Say the number first, with '.' under it: '1 {word.text}'.",
                )
            at = number - 1 + BETWEEN[word.text]
        else:
            raise TextError(
                word.offset,
                f"{word.text!r} is not a word of the count.",
                found=word.text,
                expected=f"a number, {' '.join(BETWEEN)} or |",
            )
        at = word.bar * meter.bar + at * meter.unit
        if starts and at <= starts[-1]:
            raise TextError(
                word.offset,
                f"{word.text!r} does not come later than the word before it.",
                found=word.text,
                expected=f"the order {' '.join(BETWEEN)}",
            )
        if counts is not None and at >= counts * meter.unit:
            raise TextError(word.offset, f"{word.text!r} lies outside {where}.", found=word.text)
        starts.append(at)
    length = row.bars * meter.bar if counts is None else counts * meter.unit
    return Count(row, tuple(starts), length)


def under(text: str, count: Count) -> tuple[Word, ...]:
    """The words of a row, one under each word of the count. Raises `TextError`.

    A row of one word stands for that word under every count. Bar lines may be left out; where they
    are written they stand where the count has them.
    """
    row = WordRow.split(text)
    if not row.words:
        raise TextError(0, "the row is empty.", expected=f"{len(count.row)} words")
    if len(row) == 1:
        return tuple(row.words) * len(count.row)
    if len(row) != len(count.row):
        extra = row.words[min(len(count.row), len(row) - 1)]
        raise TextError(
            extra.offset,
            f"{len(row)} words stand under {len(count.row)} counts.",
            found=f"{len(row)} words",
            expected=f"{len(count.row)} words, or one for all",
            hint="Write '.' where nothing stands.",
        )
    if row.bars > 1:
        for word, counted in zip(row, count.row, strict=True):
            if word.bar != counted.bar:
                raise TextError(
                    word.offset,
                    "a bar line stands elsewhere than in the count.",
                    found=word.text,
                    expected=f"bar {counted.bar + 1}",
                )
    return tuple(row.words)
