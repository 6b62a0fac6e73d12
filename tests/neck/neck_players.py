"""The player that most tests of the neck are about, and chords from a line of symbols."""

from accomp.harmony import parse_chord
from accomp.neck import Player, find_hand, find_instrument

TENOR = find_instrument("tenor-banjo")
MEDIUM = find_hand("medium")
TEACHER = Player.on(TENOR, MEDIUM)


def chords(symbols):
    return [parse_chord(symbol) for symbol in symbols.split()]
