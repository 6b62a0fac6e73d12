"""Arguments of calls converted to what the job needs: names to values, one value to several.

Conventions: a call has one key, tempo and position; `Options` has several of each. Problems name
the argument of the call, not the option.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, TypedDict, TypeVar

from accomp.errors import InputError, Problem
from accomp.files.values import did_you_mean
from accomp.harmony import Chord, Key, parse_chord
from accomp.job.named import find_player
from accomp.job.options import Options, PlanKind
from accomp.job.request import Request, resolve
from accomp.neck import Instrument, Player, find_instrument
from accomp.neck.player import VocabularyName
from accomp.rhythm import Style
from accomp.tune.model import as_tune

Made = TypeVar("Made")

# Arguments with one value, and the option that has several of them.
_ONE_OF = {
    "key": "keys",
    "tempo": "tempos",
    "position": "positions",
    "part": "parts",
    "reader": "readers",
}
_CALLED = {option: word for word, option in _ONE_OF.items()}


class Wished(TypedDict, total=False):
    """Wishes for positions: the `key`; the `style` (a choked one prefers closed shapes); one shape
    for each chord or a free choice (`plan`: "fixed", "free"); the shapes to choose from
    (`vocabulary`: "first", "inversions", "all"); closed shapes only (`closed`: True) or open
    strings anywhere (False)."""

    key: str | Key
    style: str | Style
    plan: PlanKind
    vocabulary: VocabularyName
    closed: bool


class Manner(Wished, total=False):
    """How a tune is played: wishes for positions, the `tempo` in beats a minute, the number of
    `choruses`, `count_in` bars of clicks, the `melody` as a guide track, and the `seed` of what
    varies by chance."""

    tempo: float
    choruses: int
    count_in: int
    melody: bool
    seed: int


def as_chord(found: str | Chord) -> Chord:
    """A chord by its symbol, or unchanged. Raises `ChordError`."""
    return found if isinstance(found, Chord) else parse_chord(found)


def as_instrument(found: str | Instrument) -> Instrument:
    """An instrument by its name or file, or unchanged. Raises `InputError`."""
    return found if isinstance(found, Instrument) else find_instrument(found)


def as_player(found: Player | str) -> Player:
    """A player unchanged, or one with a medium hand on the instrument named.

    Raises `InputError`.
    """
    if isinstance(found, Player):
        return found
    return asked_for(lambda: find_player(Options(instrument=found)))


def requested(tune: object, player: Player | str | None, manner: Mapping[str, Any]) -> Request:
    """A call's tune, player and manner as a request. Raises `InputError` with every problem."""
    there = as_tune(tune)
    on = None if player is None else as_player(player)
    request = asked_for(lambda: resolve(there, options_of(manner), on))
    if len(request.keys) != 1:
        hint = "Ask for one key after another."
        raise InputError(Problem("this is done in one key.", found="all", hint=hint, setting="key"))
    return request


def options_of(manner: Mapping[str, Any]) -> Options:
    """The options of a call. Raises `InputError`."""
    known = (*Manner.__annotations__, *_ONE_OF, "paper", "plain_clef", "soundfont", "audio_format")
    wrong = [
        Problem(
            f"{name!r} is not known here.",
            found=name,
            expected=", ".join(dict.fromkeys(known)),
            hint=did_you_mean(name, known) or f"Known are: {', '.join(Manner.__annotations__)}.",
        )
        for name in manner
        if name not in known
    ]
    if wrong:
        raise InputError(wrong)
    given: dict[str, Any] = {}
    for name, value in manner.items():
        if isinstance(value, Style):
            value = value.file or value.name
        value = str(value) if isinstance(value, Key) else value
        if value is not None:
            given[_ONE_OF.get(name, name)] = (value,) if name in _ONE_OF else value
    return Options(**given)


def asked_for(make: Callable[[], Made]) -> Made:
    """The result of `make`; in problems, options are renamed to the arguments of the call."""
    try:
        return make()
    except InputError as error:
        raise type(error)(
            replace(one, setting=_CALLED.get(one.setting, one.setting)) for one in error.problems
        ) from None
