"""Tunes in every meter and key for the styles to be tried on."""

from __future__ import annotations

from functools import cache

from accomp.harmony import Chord
from accomp.neck import Neck, Plan, Player, Wish, find_hand, find_instrument
from accomp.rhythm import Style
from accomp.score.arrange import Rendition, arrange
from accomp.score.arrangement import Arrangement
from accomp.score.planning import TuneChords, tune_chords
from accomp.time import Meter
from accomp.tune import Tune, parse_tune

BANJO = find_instrument("tenor-banjo")
PLAYER = Player.on(BANJO, find_hand("medium"))

KEYS = "C Db D Eb E F Gb G Ab A Bb B".split()


@cache
def tune_in(key: str, meter: str) -> Tune:
    """Sixteen bars with sixths, sevenths, a diminished chord, a bass note, and a silent bar."""
    from accomp.harmony import Key
    from accomp.tune import transpose_tune

    shares = Meter.parse(meter).shares
    if 2 in shares:
        two = "| C7 D7 | G7 / |" if 4 not in shares else "| C7 D7 | G7 / / C7 |"
    else:
        fill = " /" * (min(n for n in shares if n > 1) - 2)
        two = f"| C7{fill} D7 | G7 |"
    text = f"""
title = "Trial"
key = "C"
meter = "{meter}"
tempo = 120
form = ["A", "B"]
[sections]
A = '''
| C | C6 | F | Fm6 |
{two} C/G | G7 |
'''
B = '''
| Am7 | Dm7 | N.C. | Ddim7 |
{two} C | / |
'''
"""
    return transpose_tune(parse_tune(text, "trial.toml"), Key.parse(key))


@cache
def chords_in(key: str, meter: str) -> TuneChords:
    """The tune's chord changes."""
    return tune_chords(tune_in(key, meter))


@cache
def plan_for(chords: tuple[Chord, ...], home: Chord) -> Plan:
    """The cheapest plan, the same for every meter with the same changes."""
    plans = Neck(PLAYER, chords, home).positions(Wish(vocabulary="all"))
    return min(plans, key=lambda plan: plan.cost)


def played_in(style: Style, key: str, tempo: float, choruses: int = 3) -> Arrangement:
    """The tune in a key in a style."""
    meter = str(style.meter)
    tune, chords = tune_in(key, meter), chords_in(key, meter)
    plan = plan_for(chords.chords, chords.home)
    styles = {(None, style.meter): style}
    return arrange(tune, chords, [plan] * choruses, styles, BANJO, Rendition(tempo, seed=1))
