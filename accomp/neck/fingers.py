"""What each finger does from one shape to the next: stays, takes over, slides, comes down, lifts.

Conventions: a string whose note does not change counts as held, whatever finger is on it. A finger
of the new shape whose strings are all held *stays* when it stood on them and *takes over* when
another one did (the note sounds on while the fingers change); one that stood on one of its strings
at another fret *slides*; any other *comes down* (also one that stands there already and has to lie
across more strings). A finger of the old shape that the new one does not use *lifts*, unless its
strings are all held. Strings are indices, 0 the highest-numbered.
"""

from __future__ import annotations

from dataclasses import dataclass

from accomp.neck.naming import finger_name, frets_word, join, ordinal
from accomp.neck.shape import Shape

STAYS, TAKES, SLIDES, DOWN, LIFTS = "stays", "takes over", "slides", "comes down", "lifts"


@dataclass(frozen=True, slots=True)
class FingerMove:
    """What one finger does: on which `strings`, to which `fret`, from which (0: from the air).

    `from_fingers`: the other fingers that it takes over from.
    """

    finger: int
    does: str
    strings: tuple[int, ...]
    from_fret: int
    to_fret: int
    from_fingers: tuple[int, ...] = ()

    def words(self, strings: int) -> str:
        """One clause, for an instrument of so many strings."""
        on = join([ordinal(strings - index) for index in self.strings])
        where = f"the {on} string{'s' if len(self.strings) > 1 else ''}"
        who = f"{finger_name(self.finger)} finger"
        if self.does == STAYS:
            return f"{who} stays on {where}"
        if self.does == TAKES:
            before = join([finger_name(one) for one in self.from_fingers])
            return f"{who} takes over on {where} from the {before} finger"
        if self.does == LIFTS:
            return f"{who} lifts from {where}"
        if self.does == DOWN:
            verb = "comes down" if len(self.strings) == 1 else "lies down"
            return f"{who} {verb} on {where} at fret {self.to_fret}"
        way = "up" if self.to_fret > self.from_fret else "down"
        far = frets_word(abs(self.to_fret - self.from_fret))
        return f"{who} slides {far} {way} on {where} to fret {self.to_fret}"


def finger_moves(here: Shape, there: Shape) -> tuple[FingerMove, ...]:
    """What the fingers do from `here` to `there`, index first, lifted ones last."""
    moves = []
    for finger, strings in there.stops:
        to = there.frets[strings[0]] or 0
        before = next(
            (
                here.frets[i] or 0
                for i in strings
                if here.fingers[i] == finger and here.frets[i] != to
            ),
            0,
        )
        if all(here.frets[i] == there.frets[i] for i in strings):
            others = tuple(sorted({here.fingers[i] for i in strings} - {finger}))
            does = TAKES if others else STAYS
            moves.append(FingerMove(finger, does, strings, to, to, others))
        elif before:
            moves.append(FingerMove(finger, SLIDES, strings, before, to))
        else:
            moves.append(FingerMove(finger, DOWN, strings, 0, to))
    for finger, strings in here.stops:
        if finger not in there.fingers and any(here.frets[i] != there.frets[i] for i in strings):
            fret = here.frets[strings[0]] or 0
            moves.append(FingerMove(finger, LIFTS, strings, fret, 0))
    return tuple(moves)


def held_strings(here: Shape, there: Shape) -> tuple[int, ...]:
    """Indices of the strings that sound the same note in both shapes."""
    pairs = zip(here.frets, there.frets, strict=True)
    return tuple(i for i, (a, b) in enumerate(pairs) if a is not None and a == b)
