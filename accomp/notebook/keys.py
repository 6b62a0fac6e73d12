"""The keys of a tune, each with the positions that it has on a player's neck."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import overload

from accomp.errors import InputError, Problem
from accomp.files.text import counted
from accomp.files.values import short
from accomp.harmony import Key
from accomp.neck import KeyPositions
from accomp.notebook.positions import NeckListing


@dataclass(frozen=True, eq=False, repr=False)
class Keys(NeckListing, Sequence[KeyPositions]):
    """The keys of a tune's mode, in chromatic order from C, each with its positions.

    `keys["Bb"]` has the positions in that key, `keys[0]` those of the first key of the list.
    """

    rows: tuple[KeyPositions, ...]

    @overload
    def __getitem__(self, at: int | str | Key) -> KeyPositions: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[KeyPositions, ...]: ...
    def __getitem__(self, at: int | str | Key | slice) -> KeyPositions | tuple[KeyPositions, ...]:
        """By key (also by its enharmonic name), or by index in the list.

        Raises `KeyNameError` for a text that is no key, `InputError` for a key that is not here.
        """
        if not isinstance(at, str | Key):
            return self.rows[at]
        key = Key.parse(at) if isinstance(at, str) else at
        sound = (key.tonic.pc, key.minor)
        for row in self.rows:
            if (row.key.tonic.pc, row.key.minor) == sound:
                return row
        names = ", ".join(str(row.key) for row in self.rows)
        message = f"{str(key)!r} is not among these keys."
        raise InputError(Problem(message, found=str(key), expected=names, hint=f"Known: {names}."))

    def __len__(self) -> int:
        return len(self.rows)

    def __repr__(self) -> str:
        title, found = short(self.tune.title), sum(len(row.positions) for row in self.rows)
        on = self.player.instrument.name
        many, all_of_them = counted(len(self), "key"), counted(found, "position")
        return f"<{many} for {title!r} on {on}: {all_of_them}>"
