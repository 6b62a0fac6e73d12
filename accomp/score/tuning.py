"""A tuning track: the open strings one by one.

Conventions: strings sound from the highest-numbered to the first, each several times; a course of
two strings counts as one string. Seconds are floats from the start.
"""

from __future__ import annotations

from accomp.neck import Instrument
from accomp.score.performance import (
    KeyMark,
    MeterMark,
    Note,
    Performance,
    Role,
    TempoMark,
    TextMark,
    Track,
)
from accomp.score.strings import string_channels

TIMES = 3
EACH_S = 2.0
_FIGURES = {1: "1st", 2: "2nd", 3: "3rd"}


def tuning_performance(instrument: Instrument) -> Performance:
    """Every open string `TIMES` times, `EACH_S` seconds each, with a marker that names it."""
    channels = string_channels(len(instrument.strings))
    notes: list[Note] = []
    markers: list[TextMark] = []
    start_s = 0.0
    for index, pitch in enumerate(instrument.strings):
        number = instrument.string_number(index)
        name = f"{_FIGURES.get(number, f'{number}th')} string: {pitch}"
        markers.append(TextMark(start_s, name))
        for _ in range(TIMES):
            notes.append(Note(start_s, start_s + EACH_S, pitch.midi, 80, channels[index]))
            start_s += EACH_S
    player = Track(
        name=instrument.title.split(",")[0],
        role=Role.PLAYER,
        program=instrument.program - 1,
        channels=channels,
        notes=tuple(notes),
    )
    return Performance(
        title=f"Tuning: {instrument.title}",
        tracks=(player,),
        tempos=(TempoMark(0.0, 0.5),),
        meters=(MeterMark(0.0, 4, 4),),
        keys=(KeyMark(0.0, "C"),),
        markers=tuple(markers),
        chords=(),
        end_s=start_s,
    )
