"""Positions: plans for a whole tune that stay in one area of the neck.

Conventions: an area is a window of frets in which the index finger (the lowest fretted fret)
stays; a shape with nothing fretted counts as standing at the first fret.
"""

from __future__ import annotations

from collections.abc import Sequence

from accomp.errors import NoShapeError
from accomp.harmony import Chord
from accomp.neck.hand import Hand
from accomp.neck.instrument import Instrument
from accomp.neck.plan import Plan
from accomp.neck.planner import cheapest_cycle
from accomp.neck.pricing import Pricing, tie_break
from accomp.neck.search import playable_shapes
from accomp.neck.shape import Shape

SPAN_FRETS = 3
TOP_NAMES = {"1": "root", "2": "second", "3": "third", "4": "fourth", "5": "fifth", "6": "sixth",
    "7": "seventh", "9": "ninth", "11": "eleventh", "13": "thirteenth"}


def positions(chords: Sequence[Chord], home: Chord, instrument: Instrument, hand: Hand, *,
    closed: bool | None = None, plan: str = "fixed", shapes: str = "known",
    repertoire: object = None, mute: bool = False, span_frets: int = SPAN_FRETS) -> list[Plan]:
    """All positions, from the nut upward."""
    pricing = Pricing(instrument, hand)
    found: dict[tuple[str, int], Plan] = {}
    everything = {chord: playable_shapes(chord, instrument, hand, mute=mute) for chord in {*chords, home}}
    for chord, some in everything.items():
        if not some:
            raise NoShapeError(f"{chord}: no playable shape on {instrument.title}")
    own = {(chord, shape): pricing.shape(shape, chord) + tie_break(shape) for chord, some in everything.items() for shape in some}
    groups: dict[tuple[str, int], list[Shape]] = {}
    for shape in everything[home]:
        groups.setdefault((shape.top, shape.top_pitch), []).append(shape)
    for key, homes in groups.items():
        best = None
        for start in range(1, instrument.frets + 1):
            for shut in (True, False):
                if closed is not None and closed != shut:
                    continue
                rows = []
                memo = {}
                for chord in chords:
                    if chord not in memo:
                        pool = homes if chord == home else everything[chord]
                        memo[chord] = [s for s in pool if start <= max(1, s.lowest_fret) <= start + span_frets
                            and (not shut or not s.open) and (chord != home or closed is not None or s.open != shut)]
                    rows.append(memo[chord])
                if not all(rows):
                    continue
                got = cheapest_cycle(rows, lambda i, s: own[chords[i], s], pricing.change)
                if best is None or got[1] < best[1]:
                    best = got
        if best is not None:
            found[key] = Plan("", best[0], best[1])
    named = []
    counts: dict[str, int] = {}
    for (top, _), one in sorted(found.items(), key=lambda item: item[0][1]):
        name = f"{TOP_NAMES.get(top.lstrip('b#'), top)}-top"
        counts[name] = counts.get(name, 0) + 1
        suffix = "" if counts[name] == 1 else "-high" if counts[name] == 2 else f"-high-{counts[name] - 1}"
        named.append(Plan(name + suffix, one.path, one.cost))
    return named


def plan_at(chords: Sequence[Chord], home: Chord, instrument: Instrument, hand: Hand,
    where: str | int | None = None, *, closed: bool | None = None, plan: str = "fixed", shapes: str = "known",
    repertoire: object = None, mute: bool = False, span_frets: int = SPAN_FRETS) -> Plan:
    """The position asked for, the cheapest one without a wish."""
    some = positions(chords, home, instrument, hand, closed=closed, plan=plan, shapes=shapes,
        repertoire=repertoire, mute=mute, span_frets=span_frets)
    if where is None and some:
        return min(some, key=lambda one: one.cost)
    for one in some:
        if one.name == where or where == min(s.lowest_fret for s in one.path):
            return one
    raise NoShapeError(f"no position {where!r}; there are: {', '.join(one.name for one in some)}")
