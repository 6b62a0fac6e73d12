"""What is said where there is no shape, no area or no such position: whole messages."""

from __future__ import annotations

from dataclasses import replace

import pytest
from neck_players import MEDIUM, TEACHER, TENOR, chords

from accomp.errors import NoShapeError
from accomp.harmony import Pitch
from accomp.neck import Neck, Player, Wish

TWO = replace(TENOR, strings=TENOR.strings[:2], sounding=2)
STIFF = replace(TENOR, strings=tuple(map(Pitch.parse, ("C3", "G3", "E4", "C5"))), frets=3)
C, F = chords("C F")
PINNED = ((C, (0, 0, 2, 3)), (F, (12, 14, 15, 15)))
REACH = "Tenor banjo for a hand that reaches"
TRY = "a greater reach, or another key."


@pytest.mark.parametrize(
    ("symbols", "player", "wish", "told", "helps"),
    [
        (
            "F Bb C+ F", Player.on(TENOR, MEDIUM.with_reach(20)), Wish(),
            f"Bb and C+: no shape on {REACH} 20 mm. From a reach of 28 mm on they have one.",
            ("reach_mm",),
        ),
        (
            "F Bb F", Player.on(TENOR, MEDIUM.with_reach(20)), Wish(),
            f"Bb: no shape on {REACH} 20 mm. From a reach of 25 mm on it has one.",
            ("reach_mm",),
        ),
        (
            "C", Player.on(TWO, MEDIUM), Wish(),
            f"C: no shape on {REACH} 95 mm. No reach would do: C needs C E G together. "
            "Write a plainer chord, or allow unsounded strings.",
            ("mute",),
        ),
        (
            "C F", Player.on(TWO, MEDIUM, mute=True), Wish(),
            f"C and F: no shape on {REACH} 95 mm. No reach would do: C needs C E G together; "
            "F needs F A C together. Write a plainer chord.",
            (),
        ),
        (
            "C", Player.on(STIFF, MEDIUM), Wish(closed=True),
            f"C: no closed shape on {REACH} 95 mm. With open strings there is one.",
            ("closed",),
        ),
        (
            "C Eb F# A", TEACHER, Wish(closed=True, span_frets=0),
            "Tenor banjo: no area of 1 fret holds all chords. The best is fret 3, where A cannot "
            f"be played. Try open strings, {TRY}",
            ("closed", "reach_mm", "keys"),
        ),
        (
            "C Eb F# A", TEACHER, Wish(span_frets=0),
            "Tenor banjo: no area of 1 fret holds all chords. The best is fret 1, where C cannot "
            f"be played. Try {TRY}",
            ("reach_mm", "keys"),
        ),
        (
            "C F", TEACHER, Wish(closed=True, pins=PINNED),
            "Tenor banjo: no area of 4 frets holds all chords. The best is fret 1 to 4, where F "
            "cannot be played. Try open strings, without the pinned C 0 0 2 3 and the pinned "
            f"F 12 14 15 15, {TRY}",
            ("closed", "reach_mm", "keys"),
        ),
        (
            "C F", TEACHER, Wish(pins=PINNED, tops=((0, 0),)),
            "Tenor banjo: no area of 4 frets holds all chords. The best is fret 1 to 4, where F "
            "cannot be played. Try without the pinned C 0 0 2 3, the pinned F 12 14 15 15 and the "
            f"notes wished on top, {TRY}",
            ("reach_mm", "keys"),
        ),
    ],
)  # fmt: skip
def test_what_would_help(
    symbols: str, player: Player, wish: Wish, told: str, helps: tuple[str, ...]
) -> None:
    sequence = tuple(chords(symbols))
    with pytest.raises(NoShapeError) as caught:
        Neck(player, sequence, sequence[0]).positions(wish)
    assert str(caught.value) == told
    assert caught.value.helps == helps
