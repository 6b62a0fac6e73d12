"""Dice that fall alike everywhere: only `random()` gives the same in every version of Python."""

import random
from collections.abc import Sequence
from typing import TypeVar

T = TypeVar("T")


class Dice:
    """Draws of one seed."""

    def __init__(self, seed: str) -> None:
        self._source = random.Random(f"reference {seed}")

    def below(self, count: int) -> int:
        return int(self._source.random() * count)

    def whole(self, least: int, most: int) -> int:
        return least + self.below(most - least + 1)

    def one(self, of: Sequence[T]) -> T:
        return of[self.below(len(of))]

    def some(self, of: Sequence[T], count: int) -> list[T]:
        """So many different ones."""
        left = list(of)
        return [left.pop(self.below(len(left))) for _ in range(min(count, len(left)))]

    def falls(self, share: float) -> bool:
        return self._source.random() < share
