"""Half-open spans of score time.

Conventions: score time is an exact `Fraction` of a whole note. A span holds its start and not its
end: [0, 1/4) and [1/4, 1/2) touch and do not overlap. A span of no length holds nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """Score time from `start` up to, and without, `end` (fractions of a whole note)."""

    start: Fraction
    end: Fraction

    def __post_init__(self) -> None:
        if self.end < self.start:
            raise ValueError(f"a span cannot end ({self.end}) before it starts ({self.start})")

    @property
    def duration(self) -> Fraction:
        """Length, a fraction of a whole note."""
        return self.end - self.start

    def __contains__(self, moment: object) -> bool:
        return isinstance(moment, (Fraction, int)) and self.start <= moment < self.end

    def cut(self, other: Span) -> Span | None:
        """The part that lies in `other`, or None where the two share no time."""
        start, end = max(self.start, other.start), min(self.end, other.end)
        return Span(start, end) if start < end else None

    def shifted(self, by: Fraction) -> Span:
        """The same span `by` later (earlier when negative)."""
        return Span(self.start + by, self.end + by)
