"""Patterns of strokes as values that are asked, never run.

Conventions: a pattern repeats without end from its own start, before it too; times are exact
fractions of a whole note, spans half-open. Every operation returns a new pattern.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from accomp.rhythm.band import common_length
from accomp.rhythm.stroke import Stroke
from accomp.time import Span


@dataclass(frozen=True, slots=True)
class Pattern:
    """Strokes over `length`, in order; asked for a longer span it comes again and again.

    Every stroke begins inside the length; the last may end in the next turn.
    """

    length: Fraction
    strokes: tuple[Stroke, ...]

    def __post_init__(self) -> None:
        if self.length <= 0:
            raise ValueError(f"a pattern needs a length above zero, not {self.length}")

    def during(self, span: Span) -> Iterator[Stroke]:
        """The strokes that begin in `span`, each cut at its end."""
        turn = span.start // self.length
        while turn * self.length < span.end:
            for stroke in self.strokes:
                whole = stroke.span.shifted(turn * self.length)
                if whole.start in span:
                    part = whole.cut(span)
                    assert part is not None
                    yield replace(stroke, span=part)
            turn += 1

    def shifted(self, by: Fraction) -> Pattern:
        """The same strokes `by` later (earlier when negative)."""
        moved = []
        for stroke in self.strokes:
            start = (stroke.start + by) % self.length
            moved.append(replace(stroke, span=Span(start, start + stroke.span.duration)))
        return Pattern(self.length, tuple(sorted(moved, key=lambda stroke: stroke.start)))

    def then(self, other: Pattern) -> Pattern:
        """This pattern once, then the other once."""
        after = tuple(
            replace(stroke, span=stroke.span.shifted(self.length)) for stroke in other.strokes
        )
        return Pattern(self.length + other.length, self.strokes + after)

    def times(self, number: int) -> Pattern:
        """This pattern written out `number` times."""
        strokes = tuple(
            replace(stroke, span=stroke.span.shifted(turn * self.length))
            for turn in range(number)
            for stroke in self.strokes
        )
        return Pattern(number * self.length, strokes)

    def cut(self, length: Fraction) -> Pattern:
        """The pattern begun anew every `length`, cut short or repeated to fill it."""
        return Pattern(length, tuple(self.during(Span(Fraction(0), length))))

    def layered(self, over: Pattern) -> Pattern:
        """Both at once, `over` winning where both strike; each stroke lasts to the next."""
        length = common_length(self.length, over.length)
        whole = Span(Fraction(0), length)
        strokes = {stroke.start: stroke for stroke in self.during(whole)}
        strokes |= {stroke.start: stroke for stroke in over.during(whole)}
        edges = [*sorted(strokes), length]
        return Pattern(
            length,
            tuple(
                replace(strokes[start], span=Span(start, min(strokes[start].span.end, following)))
                for start, following in pairwise(edges)
            ),
        )
