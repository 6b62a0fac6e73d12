"""A lead sheet as it stands on paper: bars in written order, with their signs.

Conventions: what the readers of MusicXML and ABC have in common. Times are fractions of a whole
note from the start of the bar as written (a pickup begins at 0). `number` is the bar number that
people say ("0" for a pickup); `line` counts from 1 in the file, 0 when unknown. Pitches sound.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction

from accomp.errors import Problem
from accomp.harmony import Key, Pitch

_MOST_NOTICES = 200  # nobody reads more, and a broken file could ask for a million
_MOST_CHORDS = 64  # in a bar; no tune file shows as many
_SHOWN = 8  # bars named in one notice


@dataclass(frozen=True, slots=True)
class WrittenChord:
    """A chord symbol at `onset`; `symbol` None says that nobody plays (N.C.)."""

    onset: Fraction
    symbol: str | None


@dataclass(frozen=True, slots=True)
class SourceNote:
    """A note of the melody; `tied` when it only goes on from the note before."""

    onset: Fraction
    length: Fraction
    pitch: Pitch
    tied: bool = False


@dataclass(frozen=True)
class WrittenBar:
    """One bar as written.

    `meter` is a text as "4/4", judged later. `repeat_end` is how often the passage is played in all
    (0 without a sign, usually 2). `endings` are the times that the bar is played, empty without a
    bracket. `jump` is "" or "D.C." or "D.S."; `mark` a rehearsal mark or part name; `double` says
    that a double bar line, or the end of the piece, follows.
    """

    number: str
    length: Fraction
    meter: str
    key: Key
    chords: tuple[WrittenChord, ...] = ()
    notes: tuple[SourceNote, ...] = ()
    line: int = 0
    repeat_start: bool = False
    repeat_end: int = 0
    endings: frozenset[int] = frozenset()
    opens_ending: bool = False
    mark: str = ""
    double: bool = False
    segno: bool = False
    coda: bool = False
    to_coda: bool = False
    fine: bool = False
    jump: str = ""


@dataclass
class WrittenTune:
    """A whole tune as written, and what its reader has to say about it.

    `tempo` counts whole notes a minute, None when there is none. `parts` is an order of marks to
    play in (ABC), empty without one. `problems` make the tune unreadable; `notices` do not;
    `left_out` lists bars by what is not taken over in them.
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
    _more: int = 0

    def notice(self, bar: str, text: str) -> None:
        """Say something about a bar, once."""
        said = f"bar {bar}: {text}"
        if len(self.notices) >= _MOST_NOTICES:
            self._more += 1
        elif said not in self.notices:
            self.notices.append(said)

    def leave_out(self, bar: str, what: str) -> None:
        """Note that something in a bar is not taken over; one notice tells of all bars."""
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
                    f"{symbol or 'N.C.'} stands at the same place as {other.symbol or 'N.C.'} and "
                    "is left out"
                )
            return
    if len(chords) >= _MOST_CHORDS:
        notice(f"{symbol or 'N.C.'} and what follows it finds no room and is left out")
        return
    chords.append(WrittenChord(onset, symbol))
