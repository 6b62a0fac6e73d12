"""Chords that cannot be played, shown where they stand in the tune file."""

from __future__ import annotations

from accomp.errors import InputError, NoShapeError, Problem
from accomp.job.asked import Asked
from accomp.job.options import Options
from accomp.neck import playable_shapes
from accomp.neck.missing import no_shape
from accomp.tune import Tune


def in_its_place(error: NoShapeError, tune: Tune, asked: Asked, options: Options) -> InputError:
    """What the neck said of a whole tune, as one problem a chord where it first stands.

    `tune` is the tune in the key that was tried. When every chord can be played by itself, the
    error is about them all together and stands for the whole file.
    """
    instrument, hand, closed = asked.instrument, asked.hand, options.closed is True
    places = {
        item.chord: (item.line, item.column)
        for section in reversed(list(tune.sections.values()))
        for bar in reversed(section.bars)
        for item in reversed(bar.chords)
        if item.chord is not None and item.written
    }
    problems = []
    for chord, (line, column) in places.items():
        shapes = playable_shapes(chord, instrument, hand, mute=options.mute)
        if not any(not (closed and shape.open) for shape in shapes):
            why = no_shape([chord], instrument, hand, mute=options.mute, closed=closed)
            problems.append(Problem(str(why), tune.file, line, column, found=str(chord)))
    problems.sort(key=lambda problem: (problem.line, problem.column))
    return InputError(problems or Problem(str(error), tune.file))
