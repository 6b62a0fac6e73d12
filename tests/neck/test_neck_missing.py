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


SHORT = Player.on(TENOR, MEDIUM.with_reach(20))
PIN = ((C, (4, 9, 10, 10)),)


@pytest.mark.parametrize(
    ("player", "wish", "told", "helps"),
    [
        (
            TEACHER, Wish(tops=((0, 1),)),
            "C: C# is wished on top and is no tone of it. Wish for one of C E G.", (),
        ),
        (
            SHORT, Wish(tops=((0, 4),)),
            f"C: no shape on {REACH} 20 mm has E on top. A reach of 44 mm is needed.",
            ("reach_mm",),
        ),
        (
            TEACHER, Wish(pins=PIN),
            f"C: the pinned 4 9 10 10 is no shape of it on {REACH} 95 mm. A reach of 124 mm is "
            "needed.",
            ("reach_mm",),
        ),
        (
            TEACHER, Wish(pins=((C, (0, 5, 5, 10)),), closed=True),
            f"C: the pinned 0 5 5 10 is no shape of it on {REACH} 95 mm. No reach would do: leave "
            "the wish out.",
            (),
        ),
        (
            TEACHER, Wish(pins=((C, (0, 0, 2, 3)),), tops=((0, 7),)),
            "C: the pinned shape 0 0 2 3 has another note on top than the one wished. Leave one of "
            "them out.",
            (),
        ),
        (
            Player.on(STIFF, MEDIUM), Wish(tops=((0, 4),)),
            f"C: no shape on {REACH} 95 mm has E on top. With an unsounded string there is one.",
            ("mute",),
        ),
        (
            Player.on(STIFF, MEDIUM), Wish(tops=((0, 7),)),
            f"C: no shape on {REACH} 95 mm has G on top. No reach would do: leave the wish out.",
            (),
        ),
    ],
)  # fmt: skip
def test_a_wish_that_cannot_be_met_is_told_what_would_help(
    player: Player, wish: Wish, told: str, helps: tuple[str, ...]
) -> None:
    with pytest.raises(NoShapeError) as caught:
        Neck(player, (C,), C).positions(wish)
    assert (str(caught.value), caught.value.helps) == (told, helps)
    if helps == ("reach_mm",):  # and it is true, to the mm
        needed = int(told.rpartition(" mm")[0].rpartition(" ")[2])
        able, unable = (Player.on(TENOR, MEDIUM.with_reach(needed - less)) for less in (0, 1))
        assert Neck(able, (C,), C).positions(replace(wish, vocabulary="all"))
        with pytest.raises(NoShapeError):
            Neck(unable, (C,), C).positions(wish)
    if helps == ("mute",):
        assert Neck(replace(player, mute=True), (C,), C).positions(wish)


def test_open_strings_are_offered_where_they_would_do_what_is_wished() -> None:
    (chord,) = chords("C13")
    player, wish = Player.on(TENOR, MEDIUM.with_reach(60)), Wish(tops=((0, 2),), closed=True)
    with pytest.raises(NoShapeError) as caught:
        Neck(player, (chord,), chord).positions(wish)
    assert str(caught.value) == (
        f"C13: no closed shape on {REACH} 60 mm has D on top. With open strings there is one."
    )
    assert caught.value.helps == ("closed",)
    assert Neck(player, (chord,), chord).positions(replace(wish, closed=None))


def test_a_chord_that_nobody_can_play_is_told_before_a_wish() -> None:
    player = Player.on(TWO, MEDIUM)
    with pytest.raises(NoShapeError, match=r"^C: no shape .* No reach would do: C needs C E G"):
        Neck(player, (C, C), C).positions(Wish(tops=((0, 1),)))
