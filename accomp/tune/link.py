"""Chords into the bars: each token judged, each `/` followed to what it carries on.

Conventions: a `/` at the start of a section carries on what was played before it; what that is
follows from the form, and where the form comes to the section from different chords it is an error.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Mapping
from fractions import Fraction

from accomp.errors import ChordError
from accomp.files.table import TextError
from accomp.files.values import short
from accomp.harmony import NO_CHORD, Chord, parse_chord
from accomp.time import Span
from accomp.tune.grid import CARRY, Cell, token_hint
from accomp.tune.model import Bar, ChordSpan, Section
from accomp.tune.sections import TypedSection


class Linker:
    """Turns typed sections into sections of chords, following each `/` to what it carries on."""

    def __init__(self, sections: Mapping[str, TypedSection], form: tuple[str, ...]) -> None:
        self.sections = sections
        self.form = form
        self._last = tuple(self._last_tokens())
        self._read: dict[str, Chord | ChordError | None] = {}

    def link(self) -> dict[str, Section]:
        """The finished sections, in file order; what is wrong is noted where it stands."""
        done = {}
        for name, typed in self.sections.items():
            bars = self._bars(typed)
            if typed.meter:
                done[name] = Section(name, bars, typed.key, typed.meter, typed.style)
        return done

    def _bars(self, typed: TypedSection) -> tuple[Bar, ...]:
        before = self._before(typed) if _carries(typed) else None
        bars = []
        for grid in typed.grid:
            share = (typed.meter.bar if typed.meter else Fraction(1)) / grid.count
            spans = []
            for cell in grid.cells:
                carried = cell.token.text == CARRY
                chord = before if carried else self._chord(typed, cell)
                before = chord
                span = Span(cell.start * share, (cell.start + cell.length) * share)
                line, column = typed.place(cell.token.offset)
                spans.append(ChordSpan(chord, span, not carried, line, column))
            line, column = typed.place(grid.offset)
            bars.append(Bar(tuple(spans), line, column))
        return tuple(bars)

    def _chord(self, typed: TypedSection, cell: Cell) -> Chord | None:
        text = cell.token.text
        try:
            return self._look_up(text)
        except ChordError as error:
            problem = error.problems[0]
            typed.wrong(
                TextError(
                    cell.token.offset,
                    problem.message,
                    found=text,
                    expected=problem.expected or "a chord symbol, / or N.C.",
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
        """The chord that a section which starts with `/` carries on, by the form."""
        tokens = set()
        for at, name in enumerate(self.form):
            if name != typed.name:
                continue
            if at == 0:
                self._no_one_chord(typed, "the tune starts with /, and nothing stands before it.")
                return None
            tokens.add(self._last[at - 1])
        if not tokens and self.form:
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

    def _no_one_chord(self, typed: TypedSection, message: str) -> None:
        typed.wrong(
            TextError(
                typed.grid[0].cells[0].token.offset,
                message,
                found=CARRY,
                expected="a chord symbol or N.C.",
                hint="Write the chord itself.",
            )
        )

    def _last_tokens(self) -> Iterator[str | None]:
        """For each section of the form, the last token but `/` that is played by its end."""
        before = None
        for name in self.form:
            typed = self.sections.get(name)
            cells = (cell for grid in typed.grid for cell in grid.cells) if typed else ()
            for cell in cells:
                if cell.token.text != CARRY:
                    before = cell.token.text
            yield before


def _carries(typed: TypedSection) -> bool:
    return bool(typed.grid) and typed.grid[0].cells[0].token.text == CARRY
