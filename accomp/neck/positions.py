"""Positions: a tune's chords on a player's neck, each time in one area of it.

Conventions: a position is named by the degree that its home chord has on top ("third-top"); the
same an octave higher is called "third-top-high". A position whose home chord is closed is closed
throughout, one whose home chord has open strings may use them anywhere, unless the wish says
otherwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from accomp.errors import NoShapeError
from accomp.harmony import ALL_MAJOR, ALL_MINOR, Chord, Key, transpose_chord
from accomp.neck.keys import KeyPosition, KeyPositions, with_slides
from accomp.neck.learn_next import NextFamily, learn_next
from accomp.neck.missing import no_position
from accomp.neck.plan import Plan
from accomp.neck.planner import Planner
from accomp.neck.player import ALL, NO_WISH, Player, Wish

# Common practice, no source: of positions that lie about equally well the lower one is learnt
# first. Those that cost up to so many times the cheapest count as equal.
NEARLY = 1.05
_MOST_DIGITS = 6  # of a fret: no neck is so long, and a huge number takes long


def _fret_or_name(where: str | int) -> str | int:
    """The fret of the index finger where digits say one."""
    is_fret = isinstance(where, str) and where.isdecimal() and len(where) <= _MOST_DIGITS
    return int(where) if is_fret else where


@dataclass(frozen=True)
class Neck:
    """The chords of one time through a tune, a cycle, on the neck of one player.

    `home` is the chord that names positions. All positions of a wish are planned once. Every method
    raises `NoShapeError` when a chord has no shape, or no area of the neck holds all chords; the
    message says what would help.
    """

    player: Player
    chords: tuple[Chord, ...]
    home: Chord
    _every: dict[Wish, tuple[Plan, ...]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def __post_init__(self) -> None:
        if self.home not in self.chords:
            raise ValueError(f"the home chord {self.home} is none of the chords to plan")

    def positions(self, wish: Wish = NO_WISH) -> tuple[Plan, ...]:
        """The positions wished for, in that order; without a name all, from the nut upward."""
        if not wish.positions:
            return self._all(wish)
        found: list[Plan] = []
        wrong: list[str | int] = []
        for where in map(_fret_or_name, wish.positions):
            if where == ALL:
                found += self._all(wish)
            elif plan := self._found(where, wish):
                found.append(plan)
            else:
                wrong.append(where)
        if wrong:
            raise self._no_position(wrong, wish)
        return tuple(found)

    def at(self, where: str | int, wish: Wish = NO_WISH) -> Plan:
        """One position: by name, or by the lowest fret of the index finger.

        A plan asked for by fret is called "fret-5". Raises `NoShapeError` that says which positions
        there are when this one does not exist.
        """
        where = _fret_or_name(where)
        plan = self._found(where, wish)
        if plan is None:
            raise self._no_position([where], wish)
        return plan

    def _found(self, where: str | int, wish: Wish) -> Plan | None:
        if isinstance(where, int):
            return self._planner(wish).at_fret(where)
        return next((one for one in self._all(wish) if one.name == where), None)

    def _no_position(self, wheres: Sequence[str | int], wish: Wish) -> NoShapeError:
        names = [one.name for one in self._all(wish)]
        return no_position(wheres, self.home, self.player.instrument, names)

    def best(self, wish: Wish = NO_WISH) -> Plan:
        """The position to learn first.

        Positions without open strings come first where the style chokes and the wish says nothing
        of open strings; then those without a wide shape. Of these the cheapest is taken, learning
        included, or the lowest of those that cost about the same.
        """
        every = self._all(wish)
        closed = [plan for plan in every if not plan.open]
        choice = closed if wish.choked and wish.closed is None and closed else every
        choice = tuple(plan for plan in choice if not any(plan.wide)) or choice
        cheapest = min(plan.cost for plan in choice)
        near = [plan for plan in choice if plan.cost <= cheapest * NEARLY]
        return min(near, key=lambda plan: (plan.frets, plan.cost))

    def learn_next(self, plan: Plan, wish: Wish = NO_WISH) -> tuple[NextFamily, ...]:
        """The few families that would save most in a position, each known alone."""
        return learn_next(self.player, self.chords, self.home, wish, plan)

    def keys(self, key: Key, wish: Wish = NO_WISH) -> list[KeyPositions]:
        """All positions in the 12 keys of the tune's mode, in chromatic order from C.

        `key` is the one that the chords stand in.
        """
        wish = replace(wish, pins=(), tops=())  # they are of one key
        rows = []
        for name in ALL_MINOR if key.minor else ALL_MAJOR:
            there = Key.parse(name)
            interval = key.interval_to(there)
            moved = {chord: transpose_chord(chord, interval) for chord in self.chords}
            sequence = tuple(moved[chord] for chord in self.chords)
            neck = Neck(self.player, sequence, moved[self.home])
            try:
                found = tuple(KeyPosition(plan) for plan in neck._all(wish))
                rows.append(KeyPositions(there, sequence, found))
            except NoShapeError as error:
                rows.append(KeyPositions(there, sequence, (), str(error)))
        return with_slides(rows)

    def _all(self, wish: Wish) -> tuple[Plan, ...]:
        """Every position there is, from the nut upward."""
        unnamed = replace(wish, positions=())
        if unnamed not in self._every:
            self._every[unnamed] = tuple(self._planner(wish).positions())
        return self._every[unnamed]

    def _planner(self, wish: Wish) -> Planner:
        return Planner(self.player, self.chords, self.home, wish)
