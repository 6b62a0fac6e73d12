"""The errors when a chord has no shape, no area holds a tune, or a position does not exist.

Conventions: every message names the chord, what was asked, and what would help.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from accomp.errors import NoShapeError, TooManyShapesError
from accomp.files.text import counted, frets_text, word_list
from accomp.files.toml import nearest
from accomp.files.values import described
from accomp.harmony import Chord, Key, Spelling
from accomp.neck.hand import MOST_REACH_MM, Hand
from accomp.neck.instrument import Instrument
from accomp.neck.player import Player, Wish
from accomp.neck.pools import Area, Pools, Slot
from accomp.neck.search import heard_as, playable_shapes

_C = Key(Spelling("C"))  # names notes that belong to no chord here


def no_shape(chords: Sequence[Chord], player: Player, *, closed: bool) -> NoShapeError:
    """For chords without any playable shape on the whole neck."""
    names = word_list([str(chord) for chord in chords])
    many = len(chords) > 1
    message = (
        f"{names}: no {'closed ' if closed else ''}shape on {player.instrument.title} for a hand "
        f"that reaches {player.hand.greatest_mm:g} mm."
    )
    if closed and all(player.playable(chord) for chord in chords):
        return NoShapeError(f"{message} With open strings there is one.", helps=("closed",))
    reaches = [smallest_reach(chord, player, closed=closed) for chord in chords]
    able = [reach for reach in reaches if reach is not None]
    if len(able) == len(chords):
        each = "they have" if many else "it has"
        more = f"From a reach of {max(able)} mm on {each} one."
        return NoShapeError(f"{message} {more}", helps=("reach_mm",))
    hopeless = [chord for chord, reach in zip(chords, reaches, strict=True) if reach is None]
    need = "; ".join(
        f"{chord} needs {' '.join(str(t.spelling) for t in chord.tones if t.essential)} together"
        for chord in hopeless
    )
    return NoShapeError(
        f"{message} No reach would do: {need}. Write a plainer chord"
        + ("." if player.mute else ", or allow unsounded strings."),
        helps=() if player.mute else ("mute",),
    )


def no_wished_shape(slot: Slot, player: Player, *, closed: bool) -> NoShapeError:
    """For a chord that has shapes, but none as wished."""
    chord, title = slot.chord, player.instrument.title
    hand = f"a hand that reaches {player.hand.greatest_mm:g} mm"
    if slot.frets is None:
        assert slot.top_pc is not None, "it is the wish that cannot be met"
        tone = chord.by_pc.get(slot.top_pc)
        if tone is None:
            note, tones = _C.spell(slot.top_pc), " ".join(str(t.spelling) for t in chord.tones)
            return NoShapeError(
                f"{chord}: {note} is wished on top and is no tone of it. Wish for one of {tones}."
            )
        kind = "closed shape" if closed else "shape"
        message = f"{chord}: no {kind} on {title} for {hand} has {tone.spelling} on top."
    else:
        closed = False  # a pinned shape is taken as it is
        given = frets_text(slot.frets)
        if slot.top_pc is not None and _has_shape(replace(slot, top_pc=None), player):
            return NoShapeError(
                f"{chord}: the pinned shape {given} has another note on top than the one wished. "
                "Leave one of them out."
            )
        message = f"{chord}: the pinned {given} is no shape of it on {title} for {hand}."
    if closed and _has_shape(slot, player):
        return NoShapeError(f"{message} With open strings there is one.", helps=("closed",))
    reach = _smallest(lambda hand: _has_shape(slot, replace(player, hand=hand), closed), player)
    if reach is not None:
        return NoShapeError(f"{message} A reach of {reach} mm is needed.", helps=("reach_mm",))
    if not player.mute and _has_shape(slot, replace(player, mute=True), closed):
        return NoShapeError(f"{message} With an unsounded string there is one.", helps=("mute",))
    return NoShapeError(f"{message} No reach would do: leave the wish out.")


def _has_shape(slot: Slot, player: Player, closed: bool = False) -> bool:
    """Whether a player has a shape as wished; False when there are too many to look at."""
    try:
        shapes = player.playable(slot.chord)
    except TooManyShapesError:
        return False
    return any(
        slot.suits(shape) and heard_as(shape, slot.chord) and not (closed and shape.open)
        for shape in shapes
    )


def smallest_reach(chord: Chord, player: Player, *, closed: bool = False) -> int | None:
    """The smallest reach in whole mm with which a chord has a shape, None when none would do."""

    def enough(hand: Hand) -> bool:
        try:
            shapes = playable_shapes(chord, player.instrument, hand, mute=player.mute)
        except TooManyShapesError:
            return True
        return any(not (closed and shape.open) for shape in shapes)

    return _smallest(enough, player)


def _smallest(would_do: Callable[[Hand], bool], player: Player) -> int | None:
    """The smallest reach in whole mm with which a hand would do, None when none does."""

    def enough(reach: int) -> bool:
        return would_do(player.hand.with_reach(reach))

    low, high = 0, 1
    while not enough(high):  # doubling first: wide reaches have very many shapes
        if high >= MOST_REACH_MM:
            return None
        low, high = high, min(2 * high, int(MOST_REACH_MM))
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def no_area(slots: Iterable[Slot], pools: Pools, wish: Wish) -> NoShapeError:
    """For a tune whose chords all have shapes, but nowhere close enough together."""
    symbols = list(slots)
    frets = pools.player.instrument.frets
    span = wish.span_frets
    areas = [Area(low, low + span, wish.closed is True) for low in range(1, frets + 1)]
    missing = [
        ([slot.chord for slot in symbols if not pools.pool(slot, area).candidates], area)
        for area in areas
    ]
    lacking, area = min(missing, key=lambda one: len(one[0]))
    title = pools.player.instrument.title
    if not lacking:
        return NoShapeError(
            f"{title}: no area of the neck holds the tune with its home chord in one piece. "
            "Try open strings everywhere, a greater reach, or all playable shapes.",
            helps=("closed", "reach_mm", "vocabulary"),
        )
    also = "open strings, " if wish.closed else ""
    pinned = [f"{chord} {frets_text(frets)}" for chord, frets in wish.pins]
    wishes = [f"the pinned {one}" for one in pinned]
    wishes += ["the notes wished on top"] if wish.tops else []
    if wishes:
        also += f"without {word_list(wishes)}, "
    best = f"{area.low} to {area.high}" if span else f"{area.low}"
    return NoShapeError(
        f"{title}: no area of {counted(span + 1, 'fret')} holds all chords. The best is fret "
        f"{best}, where {word_list([str(chord) for chord in lacking])} cannot be played. "
        f"Try {also}a greater reach, or another key.",
        helps=("closed", "reach_mm", "keys") if wish.closed else ("reach_mm", "keys"),
    )


def no_position(
    wheres: Sequence[str | int], home: Chord, instrument: Instrument, names: Sequence[str]
) -> NoShapeError:
    """For positions that the tune does not have in its key; those that it has are `names`."""
    first, *rest = (_not_there(where, home, instrument, names) for where in wheres)
    there = f"Positions there are: {', '.join(names)}; or a fret for the index finger."
    return NoShapeError(" ".join([first, *(text[0].upper() + text[1:] for text in rest), there]))


def _not_there(where: str | int, home: Chord, instrument: Instrument, names: Sequence[str]) -> str:
    if isinstance(where, int):
        return (
            f"no plan with the index finger from fret {where} on: not every chord has a shape "
            f"there on {instrument.title}."
        )
    close = nearest(where, names)
    hint = f" Did you mean {close!r}?" if close else ""
    named = f"there is no position {described(where)} with {home} as home chord"
    return f"{named} on {instrument.title}.{hint}"
