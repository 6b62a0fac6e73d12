"""A lead sheet as written: bars in written order, with their signs.

Conventions: the readers of MusicXML and ABC share these types. Times are fractions of a whole note
from the start of the written bar (a pickup begins at 0). `number` is the bar number that people say
("0" for a pickup). `line` counts from 1 in the file, 0 when unknown. Pitches are sounding pitches.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Any, Literal

from accomp.errors import InputError, Problem
from accomp.harmony import NO_CHORD, Key, Pitch
from accomp.intake.numbers import TooManyError, WrongNumberError

_MOST_NOTICES = 200  # nobody reads more, and a broken file could cause a million
# In all tunes of a file: a few bytes each can make 2,000 tunes of 2,000 bars.
MOST_BARS_IN_ALL = 200_000
MOST_LOST = 1000  # different texts in a tune that are no chord symbols
MOST_LOST_IN_ALL = 3000
_LONGEST_TITLE = 60  # characters of a title in a message
_MOST_PROBLEMS = 20  # of one tune: enough to mend before the file is read again
_MOST_CHORDS = 64  # in a bar, more than a tune file can have
_SHOWN = 8  # bars named in one notice


@dataclass(frozen=True, slots=True)
class WrittenChord:
    """A chord symbol at `onset`; `symbol` is None for N.C."""

    onset: Fraction
    symbol: str | None


@dataclass(frozen=True, slots=True)
class SourceNote:
    """A note of the melody; `tied` when it is tied to the note before."""

    onset: Fraction
    length: Fraction
    pitch: Pitch
    tied: bool = False


# A jump back to the beginning (D.C.) or to the segno (D.S.); "" for none.
JumpSign = Literal["", "D.C.", "D.S."]


@dataclass(frozen=True, slots=True)
class RoadSigns:
    """Signs and words at a bar that belong to the road map or divide the tune.

    `repeat_end` is how often the passage is played in all (0 without a sign, usually 2). `mark` is
    a rehearsal mark or part name. `double`: a double bar line or the end of the piece follows.
    `through` is how often the form that begins here is played, `chorus` the number of the chorus
    that begins here, the last one of several; both are 0 when no words say it.
    """

    repeat_start: bool = False
    repeat_end: int = 0
    opens_ending: bool = False
    mark: str = ""
    double: bool = False
    segno: bool = False
    coda: bool = False
    to_coda: bool = False
    fine: bool = False
    jump: JumpSign = ""
    through: int = 0
    chorus: int = 0


NO_SIGNS = RoadSigns()


@dataclass(frozen=True)
class WrittenBar:
    """One bar as written.

    `meter` is a text such as "4/4", checked later. `endings` are the numbers of the bracket over
    the bar, empty without a bracket.
    """

    number: str
    length: Fraction
    meter: str
    key: Key
    chords: tuple[WrittenChord, ...] = ()
    notes: tuple[SourceNote, ...] = ()
    line: int = 0
    endings: frozenset[int] = frozenset()
    signs: RoadSigns = NO_SIGNS

    def with_signs(self, **signs: Any) -> WrittenBar:
        """The bar with the named signs changed."""
        return replace(self, signs=replace(self.signs, **signs))


@dataclass
class WrittenTune:
    """A whole tune as written, with the problems and notices of its reader.

    `tempo` counts whole notes a minute, None when there is none. `parts` is the order in which
    marked parts are played (ABC), empty without one. `problems` make the tune unreadable; `notices`
    do not. `left_out` has, by the name of something not taken over, the bars it was in. `lost` are
    texts that are no chord symbols. `stopped`: reading ended early because of too much of
    something. `ours`: the program itself made the file.
    """

    title: str
    composer: str
    bars: list[WrittenBar] = field(default_factory=list)
    tempo: Fraction | None = None
    parts: tuple[str, ...] = ()
    notices: list[str] = field(default_factory=list)
    left_out: dict[str, list[str]] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    line: int = 0
    lost: set[str] = field(default_factory=set)
    stopped: bool = False
    ours: bool = False
    _more: int = 0

    def notice(self, bar: str, text: str) -> None:
        """Add a notice about a bar, once."""
        self.say(f"bar {bar}: {text}")

    def say(self, text: str) -> None:
        """Add a notice about the tune, once."""
        if len(self.notices) >= _MOST_NOTICES:
            self._more += 1
        elif text not in self.notices:
            self.notices.append(text)

    @contextmanager
    def reading(self, line: int, column: int = 0) -> Iterator[None]:
        """A context for reading at `line` and `column`: a wrong number becomes a problem there."""
        try:
            yield
        except WrongNumberError as error:
            at = error.line or line
            start = column + error.offset if column and at == line else 0
            self.wrong(f"{error}", at, start, error.found, error.expected)
            self.stopped |= isinstance(error, TooManyError)

    def wrong(self, message: str, line: int, column: int, found: str, expected: str) -> None:
        """Add a problem of the file, unless there are too many already."""
        hint = "Put it right in the program that the file comes from, or in the file itself."
        if not self.hopeless:
            message = f"{self.title[:_LONGEST_TITLE]!r}: {message}"
            self.problems.append(Problem(message, "", line, column, found, expected, hint))

    @property
    def hopeless(self) -> bool:
        """Whether reading on is of no use: there are too many problems."""
        return self.stopped or len(self.problems) >= _MOST_PROBLEMS

    def lose(self, symbol: str) -> None:
        """Note a text that is no chord symbol.

        Raises `TooManyError` when there are many, since each costs some milliseconds to parse.
        """
        self.lost.add(symbol)
        if len(self.lost) > MOST_LOST:
            raise TooManyError("chord symbols that cannot be read", MOST_LOST)

    def leave_out(self, bar: str, what: str) -> None:
        """Note that something in a bar is not taken over; one notice lists all its bars."""
        bars = self.left_out.setdefault(what, [])
        if bar not in bars[-1:]:
            bars.append(bar)

    @property
    def said(self) -> tuple[str, ...]:
        """All notices."""
        together = []
        for what, bars in self.left_out.items():
            shown = ", ".join(bars[:_SHOWN]) + (" and others" if len(bars) > _SHOWN else "")
            together.append(f"bar{'s' * (len(bars) > 1)} {shown}: {what} not taken over")
        if self._more:
            together.append(f"{self._more} more things are not as they should be")
        return (*self.notices, *together)


def add_chord(
    chords: list[WrittenChord], onset: Fraction, symbol: str | None, notice: Callable[[str], None]
) -> None:
    """Add a chord symbol; of two at one place the first one stays, with a notice."""
    for other in chords:
        if other.onset == onset:
            if other.symbol != symbol:
                notice(
                    f"{symbol or NO_CHORD} stands at the same place as {other.symbol or NO_CHORD} "
                    "and is left out"
                )
            return
    if len(chords) >= _MOST_CHORDS:
        notice(f"{symbol or NO_CHORD} and what follows it finds no room and is left out")
        return
    chords.append(WrittenChord(onset, symbol))


def too_many(path: Path, line: int, what: str) -> InputError:
    """The error of a file of many tunes that holds more than `what`."""
    return InputError(
        Problem(
            f"it holds more than {what}.",
            str(path),
            line,
            found=f"more than {what}",
            expected=f"at most {what}",
            hint="Split it into several files.",
        )
    )
