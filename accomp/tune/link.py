"""Chords into the bars: each token judged, each `/` followed to what it carries on.

Conventions: a `/` at the start of a section carries on the chord that was played before it, by the
form. Where the form comes to the section from different chords, that is an error.
"""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from functools import cached_property

from accomp.errors import ChordError
from accomp.files.table import TextError
from accomp.files.values import short
from accomp.harmony import NO_CHORD, Chord, parse_chord
from accomp.time import Span
from accomp.tune.grid import AGAIN, ANY_TOKEN, CARRY, Cell, token_hint
from accomp.tune.model import Bar, ChordSpan, Section
from accomp.tune.road import LAST, RoadMap, Step, rounds, steps
from accomp.tune.sections import TypedBars, TypedSection

_NOTHING = ""  # stands before the first section


class Linker:
    """Turns typed sections into sections of chords, following each `/` to what it carries on."""

    def __init__(self, sections: Mapping[str, TypedSection], road: RoadMap) -> None:
        self.sections = sections
        self.road = road
        self._read: dict[str, Chord | ChordError | None] = {}
        self._told: set[str] = set()  # sections whose first / is wrong

    def link(self) -> dict[str, Section]:
        """The finished sections, in file order; what is wrong is noted where it stands."""
        done = {}
        for name, typed in self.sections.items():
            before = self._before(typed) if _carries(typed) else None
            bars = self._bars(typed, typed.body, before)
            self._judge_repeats(typed, bars)
            endings = tuple(self._bars(typed, one, _end(bars), bars) for one in typed.endings)
            last = () if typed.last is None else self._bars(typed, typed.last, _end(bars), bars)
            if typed.meter:
                done[name] = Section(
                    name=name,
                    bars=bars,
                    key=typed.key,
                    meter=typed.meter,
                    style=typed.style,
                    repeats=typed.repeats,
                    endings=endings,
                    last=last,
                    to_coda=typed.to_coda,
                )
        return done

    def _bars(
        self,
        typed: TypedSection,
        typed_bars: TypedBars,
        before: Chord | None,
        earlier: tuple[Bar, ...] = (),
    ) -> tuple[Bar, ...]:
        """The bars of a part of a section, which come after `before` and the `earlier` ones."""
        bars = list(earlier)
        for grid in typed_bars.grid:
            line, column = typed_bars.place(grid.offset)
            if grid.again and bars:
                bars.append(Bar(_once_more(bars[-1], before), True, line, column))
                before = bars[-1].chords[-1].chord
                continue
            share = (typed.meter.bar if typed.meter else Fraction(1)) / grid.count
            spans = []
            for cell in grid.cells:
                carried = cell.token.text == CARRY
                unknown = carried or grid.again  # the grid has told of a % with nothing before it
                chord = before if unknown else self._chord(typed_bars, cell)
                before = chord
                span = Span(cell.start * share, (cell.start + cell.length) * share)
                at = typed_bars.place(cell.token.offset)
                spans.append(ChordSpan(chord, span, not carried, *at))
            bars.append(Bar(tuple(spans), False, line, column))
        return tuple(bars[len(earlier) :])

    def _judge_repeats(self, typed: TypedSection, bars: tuple[Bar, ...]) -> None:
        """A repeat that starts with / carries on the same chord each time."""
        for one in typed.repeats:
            if one.first == 0 and typed.name in self._told:
                continue
            first, last = bars[one.first].chords[0], bars[one.last - 1].chords[-1]
            if not first.written and first.chord != last.chord:
                offset = typed.body.grid[one.first].cells[0].token.offset
                names = short(" and ".join(str(c or NO_CHORD) for c in (first.chord, last.chord)))
                message = f"the repeat starts with /, and comes to it from {names}."
                self._no_one_chord(typed, message, offset)

    def _chord(self, typed_bars: TypedBars, cell: Cell) -> Chord | None:
        text = cell.token.text
        try:
            return self._look_up(text)
        except ChordError as error:
            problem = error.problems[0]
            typed_bars.wrong(
                TextError(
                    cell.token.offset,
                    problem.message,
                    found=text,
                    expected=problem.expected or ANY_TOKEN,
                    hint=token_hint(text) or problem.hint,
                )
            )
        return None

    def _look_up(self, text: str) -> Chord | None:
        """The chord of a token, None for N.C. Raises `ChordError`, each time anew."""
        if text not in self._read:
            try:
                self._read[text] = None if text == NO_CHORD else parse_chord(text)
            except ChordError as error:
                self._read[text] = error
        chord = self._read[text]
        if isinstance(chord, ChordError):
            raise chord
        return chord

    def _before(self, typed: TypedSection) -> Chord | None:
        """The chord that a section which starts with `/` carries on, by the road map."""
        tokens = self._comes_from.get(typed.name, set())
        if _NOTHING in tokens:
            self._no_one_chord(typed, "the tune starts with /, and nothing stands before it.")
            return None
        if not tokens and self.road.form:
            message = f"section {typed.name!r} starts with /, and the form never comes to it."
            self._no_one_chord(typed, message)
        if len(tokens) > 1:
            chords = short(" and ".join(sorted(filter(None, tokens))))
            message = (
                f"section {typed.name!r} starts with /, and the form comes to it from {chords}."
            )
            self._no_one_chord(typed, message)
        elif token := next(iter(tokens), None):
            with contextlib.suppress(ChordError):  # told where it stands
                return self._look_up(token)
        return None

    @cached_property
    def _comes_from(self) -> dict[str, set[str | None]]:
        """For each section, the last tokens but `/` that are played before it comes.

        The way is followed until every bar has come, and after an intro or verse for two times
        through: only the second one comes from the end of the form.
        """
        again = 2 if self.road.intro or self.road.verse else 1
        way = steps(self.road, self.sections, max(again, rounds(self.road, self.sections)))
        found: dict[str, set[str | None]] = {}
        before: str | None = _NOTHING
        for step in way:
            found.setdefault(step.section, set()).add(before)
            before = self._last_token(step, before)
        return found

    def _last_token(self, step: Step, before: str | None) -> str | None:
        """The last token but `/` and `%` by the end of a step; `before` when it has none."""
        typed = self.sections[step.section]
        grids = [typed.body.grid[: step.cut]]  # a repeat ends on the same bar each time
        if step.ending == LAST and typed.last is not None:
            grids.append(typed.last.grid)
        elif step.ending:
            grids.append(typed.endings[int(step.ending) - 1].grid)
        for grid in reversed([grid for own in grids for grid in own]):
            for cell in reversed(grid.cells):
                if cell.token.text not in (CARRY, AGAIN):
                    return cell.token.text
        return before

    def _no_one_chord(self, typed: TypedSection, message: str, offset: int | None = None) -> None:
        self._told.add(typed.name)
        typed.body.wrong(
            TextError(
                typed.body.grid[0].cells[0].token.offset if offset is None else offset,
                message,
                found=CARRY,
                expected="a chord symbol or N.C.",
                hint="Write the chord itself.",
            )
        )


def _carries(typed: TypedSection) -> bool:
    grid = typed.body.grid
    return bool(grid) and grid[0].cells[0].token.text == CARRY


def _end(bars: tuple[Bar, ...]) -> Chord | None:
    """The chord that sounds at the end of bars."""
    return bars[-1].chords[-1].chord if bars else None


def _once_more(bar: Bar, before: Chord | None) -> tuple[ChordSpan, ...]:
    """The chords of a bar that is repeated; the first counts as written after another chord."""
    first, *others = bar.chords
    return (replace(first, written=first.chord != before), *others)
