"""The bars of an ABC tune in the making; each bar line closes one.

Conventions: an ending lasts to the next double bar line or repeat sign. Bars count from 0 while
they are read. At the end they are numbered from 1, or from 0 when the first one is a pickup. Many
files go on after a last ending without a double bar line, so a later ending is taken to be as long
as the first one.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

from accomp.harmony import Key, Spelling
from accomp.intake.signs import bar_length, ending_numbers, jump_of, says_fine, says_to_coda
from accomp.intake.written import (
    NO_SIGNS,
    RoadSigns,
    SourceNote,
    WrittenBar,
    WrittenChord,
    WrittenTune,
    add_chord,
)
from accomp.time import METERS

_MOST_SAID = 1000  # a broken file could ask for a million
_DECORATIONS: dict[str, dict[str, Any]] = {
    "segno": {"segno": True},
    "coda": {"coda": True},
    "fine": {"fine": True},
    "dacoda": {"to_coda": True},
    "tocoda": {"to_coda": True},
    **{word: {"jump": "D.C."} for word in ("dacapo", "d.c.", "d.c.alcoda", "d.c.alfine")},
    **{word: {"jump": "D.S."} for word in ("d.s.", "d.s.alcoda", "d.s.alfine")},
}


@dataclass
class OpenBar:
    """The bar being read, with the signs seen so far."""

    onset: Fraction = Fraction(0)
    chords: list[WrittenChord] = field(default_factory=list)
    notes: list[SourceNote] = field(default_factory=list)
    line: int = 0
    signs: RoadSigns = NO_SIGNS

    def sees(self, **signs: Any) -> None:
        """Note signs of the bar."""
        self.signs = replace(self.signs, **signs)


class Bars:
    """Bars of a tune in the making; the reader of the music fills the `open` one."""

    def __init__(self, tune: WrittenTune, meter: str) -> None:
        self.tune = tune
        self.meter = meter
        self.key = Key(Spelling("C"))
        self.done: list[WrittenBar] = []
        self.open = OpenBar()
        self.endings: frozenset[int] = frozenset()
        self.said: list[tuple[int, str]] = []  # bar index and notice
        self.left_out: dict[tuple[int, str], None] = {}  # a set that keeps its order

    def say(self, text: str) -> None:
        """Add a notice about the bar being read."""
        if len(self.said) < _MOST_SAID:
            self.said.append((len(self.done), text))

    def leave_out(self, what: str) -> None:
        """Note that something in the bar being read is not taken over."""
        self.left_out[len(self.done), what] = None

    def sign(self, name: str) -> None:
        """Take a decoration; only signs of the road map count."""
        self.open.sees(**_DECORATIONS.get(name.lower().replace(" ", ""), {}))

    def jump_words(self, words: str) -> bool:
        """Take words that send the player somewhere; False for any other words."""
        if says_to_coda(words):
            self.open.sees(to_coda=True)
        elif says_fine(words):
            self.open.sees(fine=True)
        elif words[:1] in "DdAa" and jump_of(words):
            self.open.sees(jump=jump_of(words))
        else:
            return False
        return True

    def bar_line(self, signs: str) -> None:
        """Take a bar line of any kind, with its repeat signs."""
        if "|" not in signs and "::" not in signs:
            return
        ends = signs.startswith(":")
        starts = signs.endswith(":") and (len(signs) > 1 or not ends)
        double = signs.count("|") > 1 or "]" in signs or "[" in signs
        self.close()
        if self.done and (ends or double):
            times = len(signs) - len(signs.lstrip(":")) + 1 if ends else 0
            if set(signs) == {":"}:  # "::" ends one repeat and starts another
                times = 2
            last = self.done[-1]
            times, double = max(times, last.signs.repeat_end), double or last.signs.double
            self.done[-1] = last.with_signs(repeat_end=times, double=double)
        if ends or starts or double:
            self.endings = frozenset()
        if starts:
            self.open.sees(repeat_start=True)

    def ending(self, numbers: str) -> None:
        """Begin an ending's bracket."""
        if self.open.onset:  # "[2" closes the bar before it
            self.close()
        self.endings = ending_numbers(numbers)
        self.open.sees(opens_ending=True)

    def close(self) -> None:
        """End the bar being read, when it has any length."""
        now = self.open
        if not now.onset:
            if now.chords:
                self.say("a chord symbol without a note is left out")
                now.chords.clear()
            self._signs_to_last(now)
            return
        over = [chord for chord in now.chords if chord.onset >= now.onset]
        self.done.append(
            WrittenBar(
                number="",
                length=now.onset,
                meter=self.meter,
                key=self.key,
                chords=tuple(chord for chord in now.chords if chord not in over),
                notes=tuple(now.notes),
                line=now.line,
                endings=self.endings,
                signs=now.signs,
            )
        )
        self.open = OpenBar()
        for chord in over:  # written before the bar line, but over the note after it
            add_chord(self.open.chords, Fraction(0), chord.symbol, self.say)

    def _signs_to_last(self, now: OpenBar) -> None:
        """Give signs that come after the last note of a bar to that bar."""
        late = now.signs
        if self.done and (late.fine or late.jump or late.to_coda):
            last = self.done[-1]
            self.done[-1] = last.with_signs(
                fine=last.signs.fine or late.fine,
                jump=last.signs.jump or late.jump,
                to_coda=last.signs.to_coda or late.to_coda,
            )
            now.sees(fine=False, to_coda=False, jump="")

    def finish(self) -> None:
        """Close the last bar, number all bars and add them to the tune."""
        self.close()
        first = 0 if self.done and _short(self.done[0]) else 1  # a pickup is bar 0
        last = len(self.done) - 1  # anything after the last note counts for the last bar
        for index, text in self.said:
            self.tune.notice(str(min(index, last) + first), text)
        for index, what in self.left_out:
            self.tune.leave_out(str(min(index, last) + first), what)
        bars = [replace(bar, number=str(at + first)) for at, bar in enumerate(self.done)]
        self.tune.bars += cut_endings(bars, self.tune)


def _short(bar: WrittenBar) -> bool:
    return bar.meter in METERS and bar.length < bar_length(bar.meter)


def cut_endings(bars: list[WrittenBar], tune: WrittenTune) -> list[WrittenBar]:
    """The bars, with later endings cut to the length of the first.

    There is a notice where this changes what is played.
    """
    result = list(bars)
    first = inside = 0
    for at, bar in enumerate(bars):
        if not bar.endings:
            first = inside = 0
            continue
        if bar.signs.opens_ending:
            first, inside = first or inside, 0
        inside += 1
        if first and inside > first:
            result[at] = replace(bar, endings=frozenset())
            if inside == first + 1 and _goes_back(bars, at):
                tune.notice(
                    bar.number, "the ending before it is taken to be as long as the first one"
                )
    return result


def _goes_back(bars: list[WrittenBar], at: int) -> bool:
    """Whether the bracket over bar `at` closes with a repeat sign."""
    end = at + 1
    while end < len(bars) and bars[end].endings and not bars[end].signs.opens_ending:
        end += 1
    return bars[end - 1].signs.repeat_end > 0
