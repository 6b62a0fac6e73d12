"""Hands: how far the fretting hand reaches.

Conventions: lengths are in mm along the string, between the notes that are fretted. `comfort_mm`
can be held all evening, `greatest_mm` can be reached at all. `neighbour` is the share of the
greatest reach that may lie between one finger and the next.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from accomp.errors import InputError, Problem
from accomp.files import data
from accomp.files.table import Table

DEFAULT_HAND = "medium"
# Stretching further than this has not been seen on any neck; it is a typing error.
MOST_REACH_MM = 400.0
USUAL_NEIGHBOUR = 0.62


@dataclass(frozen=True, slots=True)
class Hand:
    """One hand, e.g. `find_hand("medium")`: comfortable 80 mm, greatest 95 mm."""

    name: str
    title: str
    comfort_mm: float
    greatest_mm: float
    neighbour: float = USUAL_NEIGHBOUR

    def with_reach(self, greatest_mm: float) -> Hand:
        """This hand with another greatest reach; comfort is never more than that.

        Raises `InputError` when the reach is not a length between 0 and 400 mm.
        """
        if not 0 < greatest_mm <= MOST_REACH_MM:
            raise InputError(
                Problem(
                    f"a reach of {greatest_mm:g} mm is no hand's.",
                    found=f"{greatest_mm:g}",
                    expected=f"millimetres, more than 0 and at most {MOST_REACH_MM:g}",
                    hint="Leave the reach out, or give what your hand spans, as 95.",
                )
            )
        return replace(self, greatest_mm=greatest_mm, comfort_mm=min(self.comfort_mm, greatest_mm))

    def may_span(self, fingers_apart: int, mm: float) -> bool:
        """Whether two fingers, 1 = neighbours, may stand `mm` apart along the string."""
        return mm <= self.greatest_mm and mm <= fingers_apart * self.neighbour * self.greatest_mm


def find_hand(name: str = DEFAULT_HAND) -> Hand:
    """The hand of that name, or of a user's file ("my-hand.toml").

    Raises `InputError` when there is none (with the names there are) or the file is wrong.
    """
    name = data.as_name(name, "a hand")
    if data.is_file(name):
        return read_hand(Path(name))
    return _by_name(name)


@lru_cache(maxsize=32)
def _by_name(name: str) -> Hand:
    return read_hand(data.look_up("hands", name, "a hand", data.OR_A_FILE))


def read_hand(path: Path) -> Hand:
    """Read a hand file. Raises `InputError` with every problem in it."""
    table = Table.of(path)
    hand = Hand(
        name=path.stem,
        title=table.text("title", path.stem),
        comfort_mm=table.number("comfort", 1, MOST_REACH_MM, example="80"),
        greatest_mm=table.number("greatest", 1, MOST_REACH_MM, example="95"),
        neighbour=table.number("neighbour", 0.1, 1, USUAL_NEIGHBOUR),
    )
    if table.sound("comfort", "greatest") and hand.comfort_mm > hand.greatest_mm:
        table.must(
            f"at most the greatest reach, {hand.greatest_mm:g}",
            "comfort",
            hint=f"The nearest is {hand.greatest_mm:g}.",
        )
    table.check()
    return hand
