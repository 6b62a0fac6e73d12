"""The movement of each finger to the next shape: it stays, takes over, slides, comes down, lifts.

Conventions: a string whose note does not change counts as held, whatever finger is on it. A finger
of the new shape whose strings are all held *stays* when it stood on them and *takes over* when
another one did (the note sounds on while the fingers change); one that stood on one of its strings
at another fret *slides*; any other *comes down* (also one that stands there already and has to lie
across more strings). A finger of the old shape that the new one does not use *lifts*, unless all
its strings are taken over. Strings are indices, 0 the highest-numbered.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from accomp.files.text import word_list
from accomp.neck.naming import finger_name, frets_word, ordinal
from accomp.neck.shape import Shape

Doing = Literal["stays", "takes over", "slides", "comes down", "lifts"]
STAYS: Doing = "stays"
TAKES: Doing = "takes over"
SLIDES: Doing = "slides"
DOWN: Doing = "comes down"
LIFTS: Doing = "lifts"


@dataclass(frozen=True, slots=True)
class FingerMove:
    """What one finger does on `strings`, from one fret (0: from the air) to another (0: lifted).

    `from_fingers`: the other fingers that it takes over from.
    """

    finger: int
    does: Doing
    strings: tuple[int, ...]
    from_fret: int
    to_fret: int
    from_fingers: tuple[int, ...] = ()

    def words(self, strings: int) -> str:
        """One clause, for an instrument of so many strings."""
        on = word_list([ordinal(strings - index) for index in self.strings])
        where = f"the {on} string{'s' if len(self.strings) > 1 else ''}"
        who = f"{finger_name(self.finger)} finger"
        if self.does == STAYS:
            return f"{who} stays on {where}"
        if self.does == TAKES:
            before = word_list([finger_name(one) for one in self.from_fingers])
            return f"{who} takes over on {where} from the {before} finger"
        if self.does == LIFTS:
            return f"{who} lifts from {where}"
        if self.does == DOWN:
            verb = "comes down" if len(self.strings) == 1 else "lies down"
            return f"{who} {verb} on {where} at fret {self.to_fret}"
        way = "up" if self.to_fret > self.from_fret else "down"
        far = frets_word(abs(self.to_fret - self.from_fret))
        return f"{who} slides {far} {way} on {where} to fret {self.to_fret}"


def hand_words(frets: int) -> str:
    """How far the hand goes, in one clause; negative `frets` are toward the nut."""
    if not frets:
        return "the hand stays"
    return f"the hand goes {frets_word(abs(frets))} {'up' if frets > 0 else 'down'}"


def brief_moves(moves: Sequence[FingerMove], hand_frets: int, strings: int) -> list[str]:
    """The moves in few clauses, to stand beside pictures of both shapes.

    A finger that slides as far as the hand goes slides along with it. The pictures show at which
    fret a finger comes down.
    """
    stay = [move for move in moves if move.does == STAYS]
    along = [move for move in moves if move.does == SLIDES and _distance(move) == hand_frets]
    apart = [move for move in moves if move.does in {TAKES, SLIDES} and move not in along]
    down = [move for move in moves if move.does == DOWN]
    lift = [move for move in moves if move.does == LIFTS]
    clauses = [_together(stay, "stay"), _together(along, "slide along", "slides along")]
    clauses += [_apart(move) for move in apart]
    clauses += [*_down(down, strings), _together(lift, "lift")]
    return [clause for clause in clauses if clause]


def _together(moves: Sequence[FingerMove], many: str, one: str = "") -> str:
    """One clause for fingers that do the same: "index and ring stay"."""
    names = [finger_name(move.finger) for move in moves]
    return f"{word_list(names)} {many if len(names) > 1 else one or many + 's'}" if names else ""


def _apart(move: FingerMove) -> str:
    """One clause for one finger: "little slides one fret up"."""
    who = finger_name(move.finger)
    if move.does == TAKES:
        return f"{who} takes over from {word_list([finger_name(one) for one in move.from_fingers])}"
    far = _distance(move)
    return f"{who} slides {frets_word(abs(far))} {'up' if far > 0 else 'down'}"


def _down(moves: Sequence[FingerMove], strings: int) -> list[str]:
    """Clauses for fingers that come down: "middle goes to the third string, ring to the second"."""
    across: list[str] = []
    one_string: list[str] = []
    for move in moves:
        names = [ordinal(strings - index) for index in move.strings]
        if len(names) > 1:
            across.append(f"{finger_name(move.finger)} lies across the {word_list(names)} strings")
        else:
            who, on = finger_name(move.finger), f"to the {names[0]}"
            one_string.append(f"{who} {on}" if one_string else f"{who} goes {on} string")
    return [*across, ", ".join(one_string)]


def _distance(move: FingerMove) -> int:
    return move.to_fret - move.from_fret


def finger_moves(here: Shape, there: Shape) -> tuple[FingerMove, ...]:
    """The moves of the fingers from `here` to `there`, index first, lifted ones last."""
    moves = []
    for finger, strings in there.stops:
        to = _stopped_at(there, strings[0])
        before = next(
            (
                _stopped_at(here, i)
                for i in strings
                if here.fingers[i] == finger and here.frets[i] != to
            ),
            0,
        )
        if all(here.frets[i] == there.frets[i] for i in strings):
            others = tuple(sorted({here.fingers[i] for i in strings} - {finger}))
            does: Doing = TAKES if others else STAYS
            moves.append(FingerMove(finger, does, strings, to, to, others))
        elif before:
            moves.append(FingerMove(finger, SLIDES, strings, before, to))
        else:
            moves.append(FingerMove(finger, DOWN, strings, 0, to))
    for finger, strings in lifted(here, there):
        moves.append(FingerMove(finger, LIFTS, strings, _stopped_at(here, strings[0]), 0))
    return tuple(moves)


def _stopped_at(shape: Shape, index: int) -> int:
    """The fret of a string that a finger stops."""
    fret = shape.frets[index]
    assert fret is not None
    return fret


def lifted(here: Shape, there: Shape) -> list[tuple[int, tuple[int, ...]]]:
    """The fingers that leave the board, each with the strings it leaves.

    A finger leaves, too, when another one comes down across the string that it held.
    """
    taken = {
        string
        for _, strings in there.stops
        if all(here.frets[i] == there.frets[i] for i in strings)
        for string in strings
    }
    return [
        (finger, strings)
        for finger, strings in here.stops
        if finger not in there.fingers and not taken.issuperset(strings)
    ]


def held_strings(here: Shape, there: Shape) -> tuple[int, ...]:
    """Indices of the strings that sound the same note in both shapes."""
    pairs = zip(here.frets, there.frets, strict=True)
    return tuple(i for i, (a, b) in enumerate(pairs) if a is not None and a == b)
