"""How a shape is made from one that the player knows, as a value and in words.

Conventions: moves are applied in order; frets and strings as in a shape, index 0 the
highest-numbered string. The words can be read back: "from C 4 5 5 7: the root on the third string
goes two frets down", each move naming its string, how many frets and which way.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from accomp.neck.fingering import Frets
from accomp.neck.naming import degree_name, frets_text, frets_word, string_name


@dataclass(frozen=True, slots=True)
class Move:
    """One string's note goes `frets` up (negative: down), from one degree to another.

    The degrees are those of the chord before and after the move.
    """

    string: int
    frets: int
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Derivation:
    """A way from a known shape to another.

    `family` is the name of the known shape, `chord` what it is here ("C"), `frets` where it
    stands; `moves` change it; `eased` are the moves after these that bring a wide stretch within
    the hand's comfort. `alike` names the chord of the same tones whose shape it is really ("Ddim7"
    for Bdim7), empty where the chord's own root is meant.
    """

    family: str
    chord: str
    frets: Frets
    moves: tuple[Move, ...] = ()
    eased: tuple[Move, ...] = ()
    alike: str = ""

    @property
    def result(self) -> Frets:
        """The frets after all moves."""
        return apply(apply(self.frets, self.moves), self.eased)

    @property
    def wide(self) -> Frets:
        """The frets before the stretch was eased."""
        return apply(self.frets, self.moves)

    def then(self, moves: tuple[Move, ...]) -> Derivation:
        """The same with more moves after those there are; a string moves once, all the way."""
        return replace(self, moves=_net(self.moves + self.eased + moves), eased=())

    def words(self, chord: str) -> str:
        """How `chord` is made, in one sentence."""
        start = f"{self.chord} {frets_text(self.frets)}"
        subject = f"{chord} {frets_text(self.result)}"
        if self.alike:
            subject += f" (the same tones as {self.alike})"
        if not self.moves and not self.eased:
            return f"{subject} is the shape {self.family} itself."
        strings = len(self.frets)
        text = f"{subject} is made from {start} ({self.family}): "
        text += "; ".join(move_words(move, strings) for move in self.moves)
        if self.eased:
            text += "; " if self.moves else ""
            text += f"{frets_text(self.wide)} would be a wide stretch, so "
            text += "; ".join(move_words(move, strings) for move in self.eased)
        return text + "."


def _net(moves: tuple[Move, ...]) -> tuple[Move, ...]:
    """Moves of one string one after another made into one; a string that comes back stays."""
    whole: dict[int, Move] = {}
    for move in moves:
        first = whole.get(move.string)
        if first is None:
            whole[move.string] = move
        else:
            whole[move.string] = replace(first, frets=first.frets + move.frets, after=move.after)
    return tuple(move for move in whole.values() if move.frets)


def apply(frets: Frets, moves: tuple[Move, ...]) -> Frets:
    """A shape after some moves."""
    after = list(frets)
    for move in moves:
        before = after[move.string]
        assert before is not None, "a string that is not sounded cannot move"
        after[move.string] = before + move.frets
    return tuple(after)


def move_words(move: Move, strings: int) -> str:
    """ "the root on the third string goes two frets down and becomes the seventh"."""
    way = "up" if move.frets > 0 else "down"
    words = (
        f"the {degree_name(move.before)} on the {string_name(strings - move.string)} goes "
        f"{frets_word(abs(move.frets))} {way}"
    )
    if degree_name(move.before) == degree_name(move.after):
        return words
    return f"{words} and becomes the {degree_name(move.after)}"
