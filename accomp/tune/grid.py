"""Bars as they are typed: `| F / C7 / | N.C. | Gm7 C7 |`, cut into bars and tokens.

Conventions: offsets count characters from the start of the text. A line of bars begins and ends
with `|`. A token fills the bar alone or shares it evenly with the others; `/` makes what stands
before it last one token longer. `|:` and `:|` enclose bars that are played twice, or as often as
`x 3` after them says; a bar of `%` is the bar before it once more. Chord symbols are not judged
here.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from accomp.files.table import TextError
from accomp.files.values import short
from accomp.harmony import NO_CHORD, says_no_chord
from accomp.time import MOST_BARS, MOST_CHORUSES, Meter
from accomp.tune.model import Repeat

# No meter has more tokens in a bar; of a wrong bar, this many are judged.
_MOST_TOKENS = 12

CARRY = "/"
AGAIN = "%"
ANY_TOKEN = f"a chord symbol, {CARRY} or {NO_CHORD}"  # what is expected where a bar needs one

_TIMES = re.compile(r"[x×] ?([0-9]{1,9})|([0-9]{1,9}) ?[x×]")
_ANOTHER_AGAIN = {"𝄎", "⁒", "./.", "%%"}


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
    """A bar of `count` tokens; its first cell is a `/` where it carries on the bar before.

    `opens`: |: stands before it. `times` says how often the passage comes that :| after it ends (0
    without one), `sign` is the offset of that :|.
    """

    cells: tuple[Cell, ...]
    count: int
    offset: int
    opens: bool = False
    times: int = 0
    sign: int = 0

    @property
    def again(self) -> bool:
        """Whether it is a bar of `%`, the bar before it once more."""
        return self.count == 1 and self.cells[0].token.text == AGAIN


Complain = Callable[[TextError], None]


def read_grid(
    text: str,
    meter: Meter | None,
    complain: Complain,
    most: int = MOST_BARS,
    *,
    after: bool = False,
) -> tuple[GridBar, ...]:
    """Cut a text into bars; `complain` hears of everything that is wrong.

    Without a meter (because it could not be read) tokens are not counted. No more than `most`
    bars are read; with `after`, others stand before them. Bars that are wrong are
    still given, as far as they can be understood, so that the chords in them are judged too.
    """
    bars: list[GridBar] = []
    start = 0
    for line in text.split("\n"):
        for bar in _line_bars(line, start, meter, complain):
            if len(bars) >= most:
                message = f"there are more than {MOST_BARS} bars, too many for a tune."
                hint = "Write sections that are repeated once, and name them again in `form`."
                fits = f"at most {MOST_BARS} bars"
                complain(TextError(bar.offset, message, expected=fits, hint=hint))
                return tuple(bars)
            if bar.again and not (bars or after):
                complain(_nothing_again(bar))
            bars.append(bar)
        start += len(line) + 1
    return tuple(bars)


def _nothing_again(bar: GridBar) -> TextError:
    return TextError(
        bar.offset,
        "% repeats the bar before it, and nothing stands before it here.",
        found=AGAIN,
        expected=ANY_TOKEN,
        hint="Write the chords themselves.",
    )


def read_repeats(bars: Sequence[GridBar], complain: Complain) -> tuple[Repeat, ...]:
    """The repeats in bars; `complain` hears of signs that have no partner."""
    found: list[Repeat] = []
    opened: int | None = None
    for index, bar in enumerate(bars):
        if bar.opens:
            if opened is not None:
                complain(_unclosed(bars[opened]))
            opened = index
        if bar.times:
            if opened is None:
                complain(_unopened(bar))
            else:
                found.append(Repeat(opened, index + 1, bar.times))
            opened = None
    if opened is not None:
        complain(_unclosed(bars[opened]))
    return tuple(found)


def _unclosed(bar: GridBar) -> TextError:
    return TextError(
        bar.offset,
        "|: begins a repeat here, and no :| ends it.",
        found="|:",
        expected=":| after the last bar of the repeat",
        hint="Write :| where it ends, or | in place of |:. No repeat stands inside another.",
    )


def _unopened(bar: GridBar) -> TextError:
    return TextError(
        bar.sign,
        ":| ends a repeat here, and no |: begins it.",
        found=":|",
        expected="|: before the first bar of the repeat",
        hint="Write |: where it begins; a whole section is repeated by its name in `form`.",
    )


def _line_bars(line: str, start: int, meter: Meter | None, complain: Complain) -> Iterator[GridBar]:
    """The bars of one line; `start` is the offset of the line."""
    if not line.strip():
        return
    pieces = line.split("|")
    if len(pieces) == 1:
        _complain_outside(line, start, "between bar lines: | F | C7 |", complain)
        return
    if pieces[0].strip():
        _complain_outside(pieces[0], start, "a bar line | before it", complain)
    offset = start + len(pieces[0]) + 1
    bar: GridBar | None = None  # yielded once it is known what follows
    for number, piece in enumerate(pieces[1:], 1):
        last = number == len(pieces) - 1
        said = _TIMES.fullmatch(piece.strip())
        if bar is not None and bar.times and said:
            bar = _said_times(bar, said, offset + piece.index(piece.strip()), complain)
            offset += len(piece) + 1
            continue
        now = _piece(piece, offset, meter, complain)
        if now is not None and last:
            complain(_not_closed(piece, now))
        elif now is None and not last:
            complain(_nothing_in(piece, offset))
        if now is not None:
            if bar is not None:
                yield bar
            bar = now
        offset += len(piece) + 1
    if bar is not None:
        yield bar


def _piece(piece: str, offset: int, meter: Meter | None, complain: Complain) -> GridBar | None:
    """The bar between two bar lines, None where nothing stands there."""
    inside = piece.strip()
    opens, closes = inside.startswith(":"), inside.endswith(":") and len(inside) > 1
    start = piece.index(inside) + opens if inside else 0
    inside = inside[opens : len(inside) - closes]
    tokens = [Token(word[0], offset + start + word.start()) for word in re.finditer(r"\S+", inside)]
    if not tokens:
        return None
    bar = _bar(tokens, meter, complain)
    sign = offset + piece.rindex(":") if closes else 0
    return replace(bar, opens=opens, times=2 if closes else 0, sign=sign)


def _said_times(bar: GridBar, said: re.Match[str], offset: int, complain: Complain) -> GridBar:
    """The bar with the number of times that stands after its :|."""
    times = int(said[1] or said[2])
    if 2 <= times <= MOST_CHORUSES:
        return replace(bar, times=times)
    complain(
        TextError(
            offset,
            f"a repeat is played 2 to {MOST_CHORUSES} times, and this says {times}.",
            found=said[0],
            expected=f"a number from 2 to {MOST_CHORUSES}",
            hint=f"Write :| x 3, with a number from 2 to {MOST_CHORUSES}.",
        )
    )
    return bar


def _not_closed(piece: str, bar: GridBar) -> TextError:
    return TextError(
        bar.offset,
        f"the bar {_line(piece)!r} is not closed.",
        found=_line(piece),
        expected="a bar line | after it",
        hint="Every line of bars begins and ends with |.",
    )


def _nothing_in(piece: str, offset: int) -> TextError:
    hint = (
        "For a bar in which the chord goes on write | / |, for silence | N.C. |, "
        "and for a double bar line a single |."
    )
    if ":" in piece:
        hint = "Write |: right before the first bar of a repeat and :| right after its last one."
    return TextError(
        offset - 1,
        "there is nothing in this bar.",
        found=f"|{piece}|",
        expected=ANY_TOKEN,
        hint=hint,
    )


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
    fits = f"{', '.join(map(str, some))} or {most} chords and /"
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
    """`words` filled up to `count` tokens with `/`; the first or the last ones get one more."""
    each, over = divmod(count, len(words))
    longer = range(over) if first else range(len(words) - over, len(words))
    return " ".join(
        word + " /" * (each - 1 + (index in longer)) for index, word in enumerate(words)
    )


def token_hint(text: str) -> str:
    """A hint for a token that is neither a chord symbol nor `/` nor `N.C.`; may be empty."""
    if says_no_chord(text):
        return f"Did you mean {NO_CHORD!r}?"
    if set(text) == {"/"} or (text.startswith("/") and len(text) > 1):
        return "Put a space after each /."
    if text.endswith("/"):
        return f"Did you mean {text.rstrip('/') + ' /'!r}, with a space?"
    if text == AGAIN or text in _ANOTHER_AGAIN:
        return "To repeat the bar before write % alone in a bar: | F C7 | % |."
    if ":" in text:
        return "Repeats are written at bar lines: |: F | C7 :|."
    if _TIMES.fullmatch(text):
        return "How often a passage comes stands after its repeat: |: F | C7 :| x 3."
    if text in {"-", ".", "–", "—"}:
        return "To let a chord go on write /."
    return ""


def _line(text: str) -> str:
    """A text on one line and short enough to print."""
    return short(" ".join(text.split()))
