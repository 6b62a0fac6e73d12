"""One stroke of the right hand, as a style writes it.

Conventions: times are exact fractions of a whole note, counted from the start of the pattern.
`strings` is a choice that is resolved against a shape when the stroke is arranged: "all",
"low2" (the two highest-numbered sounding strings), "high3", "inner", "outer", "string1" ...
Words for force stand in `accomp.rhythm.force`.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from accomp.rhythm.force import FORCES
from accomp.time import Span

DIRECTIONS = ("down", "up")
# ring: until the string is struck again; choked: the fretting hand lets go right after the stroke,
# so that open strings ring on; heel: the heel of the right hand stops every string right after
# it; dead: the fingers only rest on the strings, so that no pitch is heard.
SOUNDS = ("ring", "choked", "heel", "dead")
# stroke: one movement; split: the first string on its place, the others half-way through the
# stroke's time; triplet: three even movements (down, up, down) in that time; roll: the strings one
# by one, slowly enough to be told apart; tremolo: to and fro until the next stroke.
# rest: no sound, and the heel of the hand stops what rings.
MANNERS = ("stroke", "split", "triplet", "roll", "tremolo", "rest")

__all__ = ["DIRECTIONS", "FORCES", "MANNERS", "SOUNDS", "Stroke"]


@dataclass(frozen=True, slots=True)
class Stroke:
    """A stroke: when, which way, which strings, how hard, and how it ends.

    `span` runs to where the next stroke (or the end of the pattern) comes: its written length.
    `manner` is one of `MANNERS`; `value` the note value of a measured tremolo's strokes (a fraction
    of a whole note), None for an unmeasured one and for every other manner.
    """

    span: Span
    direction: str = "down"
    strings: str = "all"
    force: str = "plain"
    sound: str = "ring"
    manner: str = "stroke"
    value: Fraction | None = None

    @property
    def start(self) -> Fraction:
        """Where the stroke falls."""
        return self.span.start
