"""Bars as they are typed: `| F / C7 / | N.C. | Gm7 C7 |`, cut into bars and tokens.

Conventions: offsets count characters from the start of the text. A line of bars begins and ends
with `|`. A token fills the bar alone or shares it evenly with the others; `/` makes what stands
before it last one token longer. Chord symbols are not judged here.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from accomp.files.table import TextError
from accomp.files.values import short
from accomp.harmony import NO_CHORD, says_no_chord
from accomp.time import MOST_BARS, Meter

# No meter has more tokens in a bar; of a wrong bar, this many are judged.
_MOST_TOKENS = 12

CARRY = "/"

_REPEAT_SIGNS = {":", "%", "𝄎", "⁒", "x2", "x3"}


@dataclass(frozen=True, slots=True)
class Token:
    """One token and the offset of its first character."""

    text: str
    offset: int


@dataclass(frozen=True, slots=True)
class Cell:
    """A token with the tokens of the bar that it lasts for: from `start` on, `length` of them."""

    token: Token
    start: int
    length: int


@dataclass(frozen=True, slots=True)
class GridBar:
    """A bar of `count` tokens; its first cell is a `/` where it carries on the bar before."""

    cells: tuple[Cell, ...]
    count: int
    offset: int


Complain = Callable[[TextError], None]


def read_grid(
    text: str, meter: Meter | None, complain: Complain, most: int = MOST_BARS
) -> tuple[GridBar, ...]:
    """Cut a text into bars; `complain` hears of everything that is wrong.

    Without a meter (because it could not be read) tokens are not counted. No more than `most`
    bars are read. Bars that are wrong are
    still given, as far as they can be understood, so that the chords in them are judged too.
    """
    bars: list[GridBar] = []
    start = 0
    for line in text.split("\n"):
        for bar in _line_bars(line, start, complain):
            if len(bars) >= most:
                message = f"there are more than {MOST_BARS} bars, too many for a tune."
                hint = "Write sections that are repeated once, and name them again in `form`."
                fits = f"at most {MOST_BARS} bars"
                complain(TextError(bar[0].offset, message, expected=fits, hint=hint))
                return tuple(bars)
            bars.append(_bar(bar, meter, complain))
        start += len(line) + 1
    return tuple(bars)


def _line_bars(line: str, start: int, complain: Complain) -> list[list[Token]]:
    """The tokens of each bar of one line; `start` is the offset of the line."""
    if not line.strip():
        return []
    pieces = line.split("|")
    if len(pieces) == 1:
        _complain_outside(line, start, "between bar lines: | F | C7 |", complain)
        return []
    if pieces[0].strip():
        _complain_outside(pieces[0], start, "a bar line | before it", complain)
    bars = []
    offset = start + len(pieces[0]) + 1
    for number, piece in enumerate(pieces[1:], 1):
        tokens = [Token(word[0], offset + word.start()) for word in re.finditer(r"\S+", piece)]
        last = number == len(pieces) - 1
        if tokens and last:
            complain(
                TextError(
                    tokens[0].offset,
                    f"the bar {_line(piece)!r} is not closed.",
                    found=_line(piece),
                    expected="a bar line | after it",
                    hint="Every line of bars begins and ends with |.",
                )
            )
        if tokens:
            bars.append(tokens)
        elif not last:
            complain(
                TextError(
                    offset - 1,
                    "there is nothing in this bar.",
                    found=f"|{piece}|",
                    expected="a chord symbol, / or N.C.",
                    hint="For a bar in which the chord goes on write | / |, for silence | N.C. |, "
                    "and for a double bar line a single |.",
                )
            )
        offset += len(piece) + 1
    return bars


def _complain_outside(text: str, start: int, expected: str, complain: Complain) -> None:
    words = text.strip()
    offset = start + text.index(words[0])
    hint = "Every line of bars begins and ends with |."
    if words.startswith("#"):
        hint = "Remarks cannot stand among the bars; put them on a line outside the quotes."
    message = f"{_line(words)!r} stands outside the bars."
    complain(TextError(offset, message, found=_line(words), expected=expected, hint=hint))


def _bar(tokens: list[Token], meter: Meter | None, complain: Complain) -> GridBar:
    if meter is not None and len(tokens) not in meter.shares:
        complain(_wrong_count(tokens, meter))
    tokens = tokens[:_MOST_TOKENS]
    cells: list[Cell] = []
    for index, token in enumerate(tokens):
        if token.text == CARRY and cells:
            before = cells[-1]
            cells[-1] = Cell(before.token, before.start, before.length + 1)
        else:
            cells.append(Cell(token, index, 1))
    return GridBar(tuple(cells), len(tokens), tokens[0].offset)


def _wrong_count(tokens: list[Token], meter: Meter) -> TextError:
    words = [token.text for token in tokens]
    text = " ".join(words)
    *some, most = meter.shares
    fits = f"{', '.join(map(str, some))} or {most} tokens"
    hint = f"Put it into several bars: one holds at most {most}."
    larger = [share for share in meter.shares if share > len(words)]
    if larger:
        ways = [_stretched(words, larger[0], first) for first in (True, False)]
        hint = f"Write {' or '.join(repr(way) for way in dict.fromkeys(ways))}."
    return TextError(
        tokens[0].offset,
        f"a bar of {meter} holds {fits}, and {_line(text)!r} has {len(words)}.",
        found=_line(text),
        expected=fits,
        hint=hint,
    )


def _stretched(words: list[str], count: int, first: bool) -> str:
    """`words` made to fill `count` tokens with `/`, what is over going to the first or last."""
    each, over = divmod(count, len(words))
    longer = range(over) if first else range(len(words) - over, len(words))
    return " ".join(
        word + " /" * (each - 1 + (index in longer)) for index, word in enumerate(words)
    )


def token_hint(text: str) -> str:
    """What to write instead of a token that is neither a chord symbol nor `/` nor `N.C.`."""
    if says_no_chord(text):
        return f"Did you mean {NO_CHORD!r}?"
    if set(text) == {"/"} or (text.startswith("/") and len(text) > 1):
        return "Put a space after each /."
    if text.endswith("/"):
        return f"Did you mean {text.rstrip('/') + ' /'!r}, with a space?"
    if text.strip(":") == "" or text in _REPEAT_SIGNS:
        return "Write repeated bars out, and name a repeated section again in `form`."
    if text in {"-", ".", "–", "—"}:
        return "To let a chord go on write /."
    return ""


def _line(text: str) -> str:
    """A text on one line and short enough to print."""
    return short(" ".join(text.split()))
