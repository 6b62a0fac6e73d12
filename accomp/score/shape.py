"""Louder and softer over a tune: how a band shapes eights, choruses and the end.

All players are shaped together, as far as a style lets them stray; in a style that does not stray,
every bar is as loud as its pattern says.

A bar's figure depends on its place in the section and on the section's turn in the chorus, so that
bars added elsewhere change nothing.

Conventions: one figure a bar, in decibels over the loudness that the pattern says; a velocity's
loudness is taken as 40 log10(velocity / 127) dB (the SoundFont 2.01 default). All figures are
proposals, chosen so that the loudness of three seconds moves by 2 LU and more over a chorus.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import pi, sin

from accomp.score.arrangement import ArrangedBar

_EIGHT = 8
# The second eight of two over the first; the first counts as second where its section comes again.
_ANSWER_DB = 1.6
_ARCH_DB = 1.2  # the middle of an eight over its ends
_CHORUS_DB, _CHORUS_MOST_DB = 0.8, 1.6  # each chorus over the one before; the most over the first
_MIDDLE_DB = -1.4  # takes off what the other figures add on average
_ENDING_BARS, _ENDING_DB = 4, 1.2  # towards the last bar but one of the tune
_FREE_FORCE = 6.0  # velocity; a style whose force strays less is shaped less in proportion
_FALL_DB = -1.5  # the last bar, where the tempo falls


def shape_db(bars: Sequence[ArrangedBar]) -> tuple[float, ...]:
    """How much louder each bar is played than its pattern says."""
    found = []
    for bar in bars:
        eight, within = divmod(bar.bar.section_bar, _EIGHT)
        arch = _ARCH_DB * sin(pi * (within + 0.5) / _EIGHT)
        answer = _ANSWER_DB if eight % 2 or (eight == 0 and _turn(bar) > 1) else 0.0
        growth = min(_CHORUS_DB * (bar.bar.chorus - 1), _CHORUS_MOST_DB)
        found.append(_MIDDLE_DB + arch + answer + growth)
    if bars and bars[-1].bar.section_bar + 1 >= 2 * _ENDING_BARS:  # a shorter section has no room
        for back in range(_ENDING_BARS, 1, -1):
            found[-back] += _ENDING_DB * (_ENDING_BARS - back + 1) / (_ENDING_BARS - 1)
        found[-1] += _FALL_DB if bars[-1].style.ending.ritard else _ENDING_DB
    return tuple(
        db * min(1.0, bar.style.jitter_force / _FREE_FORCE)
        for bar, db in zip(bars, found, strict=True)
    )


def velocity_at(velocity: float, db: float) -> float:
    """A velocity made louder by `db`, not rounded."""
    return velocity * 10 ** (db / 40)


def _turn(bar: ArrangedBar) -> int:
    """How often the section of a bar has come in its chorus: 2 where its address ends "/2/5"."""
    words = bar.address.split("/")
    return int(words[-2]) if len(words) > 1 and words[-2].isdigit() else 1
