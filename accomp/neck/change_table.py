"""Costs of all changes from one row of shapes to another at once, for very many shapes.

Conventions: the same sums as `accomp.neck.amounts.change_amounts` weighed, as an array of shape
(here, there). Only six strings and many open ones give so many shapes that this pays.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from accomp.neck.amounts import CHANGE_TERMS, UNIT_MM
from accomp.neck.costs import Costs
from accomp.neck.instrument import Instrument
from accomp.neck.shape import Shape

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

FINGERS = (1, 2, 3, 4)
_SILENT = -1  # stands for the fret of a string that is not sounded


class Row:
    """What the changes of a row of shapes are counted from, each as an array."""

    def __init__(self, shapes: Sequence[Shape], instrument: Instrument) -> None:
        import numpy as np  # late: the usual tune never needs it

        self.frets = np.array(
            [[_SILENT if fret is None else fret for fret in shape.frets] for shape in shapes]
        )
        self.fingers = np.array([shape.fingers for shape in shapes])
        self.low = np.array([shape.lowest_fret for shape in shapes])
        self.place = np.array([instrument.fret_mm(shape.lowest_fret) for shape in shapes])
        self.top = np.array([float(shape.top_pitch) for shape in shapes])
        most = len(instrument.strings)
        missing = float("nan")
        self.voices = np.array(
            [[*map(float, s.voices), *[missing] * (most - len(s.voices))] for s in shapes]
        )


def change_table(here: Row, there: Row, costs: Costs) -> Floats:
    """The cost of going from each shape of `here` to each of `there`."""
    import numpy as np

    weights = dict(zip(CHANGE_TERMS, costs.change, strict=True))
    differs = here.frets[:, None, :] != there.frets[None, :, :]
    moving = (here.low[:, None] > 0) & (there.low[None, :] > 0)
    shift = np.abs(here.place[:, None] - there.place[None, :]) * moving / UNIT_MM
    total: Floats = weights["shift"] * shift
    total += weights["top"] * np.abs(here.top[:, None] - there.top[None, :])
    for voice in range(here.voices.shape[1]):
        apart = np.abs(here.voices[:, voice, None] - there.voices[None, :, voice])
        total += weights["voices"] * np.nan_to_num(apart)
    for finger in FINGERS:
        on, before = there.fingers == finger, here.fingers == finger
        moved = (differs & on[None, :, :]).any(axis=2)
        slides = (differs & on[None, :, :] & before[:, None, :]).any(axis=2)
        total += weights["slid"] * slides + weights["put_down"] * (moved & ~slides)
        left = (differs & before[:, None, :]).any(axis=2) & ~on.any(axis=1)[None, :]
        total += weights["lifted"] * left
    return total
