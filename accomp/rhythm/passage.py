"""Bars in which a style plays something else: answers, builds, breaks, endings.

Conventions: bars count from 1 in a phrase, phrases from the start of a section, choruses from 1. A
player for whom a passage has no pattern plays on as before.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from accomp.rhythm.pattern import BandPattern, Pattern

SHORTEST_PHRASE = 4  # bars; common practice, no source


class PassageKind(StrEnum):
    """The purpose of a passage; it decides which bars it takes where the file does not say."""

    ANSWER = "answer"  # at the ends of phrases
    BUILD = "build"  # from a later chorus on
    BREAK = "break"  # stop-time: the band leaves the room to one


@dataclass(frozen=True, slots=True)
class Passage:
    """Patterns for certain bars.

    `bars` are bars of each phrase of `phrase` bars, all of them when empty. Those of an answer are
    counted back from the end of each phrase that the section has (see `phrase_ends`), so that a
    shorter phrase has its answer, too. The passage comes from chorus `since` on, only in `choruses`
    (all when empty), and with `last` only in the last. `louder` steps of force are added for
    everybody; with `over` the patterns are laid over what is played already.
    """

    name: PassageKind
    bars: tuple[int, ...] = ()
    phrase: int = 8
    since: int = 1
    choruses: tuple[int, ...] = ()
    last: bool = False
    louder: int = 0
    over: bool = False
    strum: Pattern | None = None
    bass: BandPattern | None = None
    drums: BandPattern | None = None
    comping: BandPattern | None = None

    def holds(self, section_bar: int, chorus: int, choruses: int, section_bars: int) -> bool:
        """Whether it takes bar `section_bar` (from 0) of a section of `section_bars` bars, in
        chorus `chorus` (from 1) of `choruses`."""
        return (
            chorus >= self.since
            and (not self.choruses or chorus in self.choruses)
            and (not self.last or chorus == choruses)
            and (not self.bars or self._in_phrase(section_bar, section_bars))
        )

    def _in_phrase(self, section_bar: int, section_bars: int) -> bool:
        if self.name != PassageKind.ANSWER:
            return section_bar % self.phrase + 1 in self.bars
        start = 0
        for end in phrase_ends(section_bars, self.phrase):
            if section_bar < end:
                left = end - 1 - section_bar
                return self.phrase - left in self.bars and left < end - start
            start = end
        return False

    def bars_before(self, section_bar: int, section_bars: int) -> int:
        """How many bars of the passage lie right before `section_bar` (from 0)."""
        if not self.bars:
            return section_bar
        before = 0
        while before < section_bar and self._in_phrase(section_bar - before - 1, section_bars):
            before += 1
        return before


def phrase_ends(bars: int, phrase: int) -> tuple[int, ...]:
    """Where the phrases of a section end, counted in bars from its start.

    Phrases have `phrase` bars where these fill the section, else half as many (a chorus of twelve
    has fours, not an eight and a half). Where these do not fill it either, there are as many whole
    phrases as fit, and the rest is one of its own, or belongs to the last one when it is shorter
    than `SHORTEST_PHRASE`. The end of the section is always an end.
    """
    size = phrase
    while size >= 2 * SHORTEST_PHRASE and size % 2 == 0 and bars % size:
        size //= 2
    if bars % size:
        size = phrase
    ends = list(range(size, bars + 1, size))
    if not ends or bars - ends[-1] >= SHORTEST_PHRASE:
        ends.append(bars)
    else:
        ends[-1] = bars
    return tuple(ends)


@dataclass(frozen=True, slots=True)
class Ending:
    """How the last chorus ends.

    The tempo falls over the last `ritard` bars to `slow_to` of itself; the last four bars are
    played `tag` more times; the patterns are for the very last bar.
    """

    ritard: int = 0
    slow_to: float = 1.0
    tag: int = 0
    strum: Pattern | None = None
    bass: BandPattern | None = None
    drums: BandPattern | None = None
    comping: BandPattern | None = None


@dataclass(frozen=True, slots=True)
class Playing:
    """What everybody plays in one bar: a pattern and the time from its beginning to the bar line.

    None is a player who is silent. Every force is `louder` steps harder than its pattern says. In
    `stop_time` a chord without a stroke of the pattern stays silent.
    """

    strum: tuple[Pattern, Fraction]
    bass: tuple[BandPattern, Fraction] | None
    drums: tuple[BandPattern, Fraction] | None
    comping: tuple[BandPattern, Fraction] | None
    louder: int = 0
    stop_time: bool = False
