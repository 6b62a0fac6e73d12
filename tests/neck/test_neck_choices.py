"""What a teacher would have chosen in tunes of the usual kinds, judged by hand: common practice, no
source. Each row has the shapes that a player may be given, and none that he should not."""

import pytest
from neck_players import MEDIUM, chords

from accomp.neck import Neck, Player, Wish, find_instrument

BLUES = "Bb7 Eb7 Bb7 Eb7 Edim7 Bb7 G7 Cm7 F7 Bb7 G7 Cm7 F7"
WALTZ = "G Em Am7 D7 G G+ C Cm6 G D7 G"
CIRCLE = "C A7 D7 G7 C A7 D7 G7 C E7 A7 D7 G7 C"


@pytest.mark.parametrize(
    ("instrument", "tune", "position", "choice"),
    [
        ("tenor-banjo", BLUES, "third-top", {"Cm7": "3 3 5 3"}),
        ("irish-tenor-banjo", WALTZ, "root-top", {"Am7": "2 2 3 3", "G": "0 0 2 3"}),
        ("guitar", CIRCLE, "third-top", {"C": "x 3 2 0 1 0", "G7": "3 2 0 0 0 1"}),
        ("guitar", "D A D A D G A D", "third-top", {"G": "3 2 0 0 0 3", "A": "x 0 2 2 2 0"}),
    ],
)
def test_what_a_teacher_would_have_chosen(instrument, tune, position, choice):
    sequence = chords(tune)
    plan = Neck(Player.on(find_instrument(instrument), MEDIUM), tuple(sequence), sequence[0]).at(
        position
    )
    found = {str(chord): str(shape) for chord, shape in plan.boxes}
    assert {symbol: found[symbol] for symbol in choice} == choice


@pytest.mark.parametrize(
    ("instrument", "tune", "wrong"),
    [
        ("mandolin", "G Em Am7 D7 G Cmaj7 D7 G", {"Am7": "0 2 3 0"}),
        ("mandolin", "F C Am7 D7 G7 C", {"Am7": "0 2 3 0"}),
        ("guitar", "Em Bm7b5 E7 Am Em B7 Em", {"Bm7b5": "7 8 7 7 6 7"}),
        ("guitar", "Bb Eb Bb7 Eb Bb F7 Bb", {"Bb7": "4 5 3 3 x x"}),
    ],
)
def test_what_a_teacher_would_strike_out(instrument, tune, wrong):
    sequence = chords(tune)
    player = Player.on(find_instrument(instrument), MEDIUM)
    held = Neck(player, tuple(sequence), sequence[0])
    for plan in (held.best(), held.best(Wish(choked=True))):
        for chord, shape in plan.boxes:
            assert wrong.get(str(chord)) != str(shape), plan.name
