"""Functions for players, shapes, positions and pieces.

Conventions: an argument that names something takes the name or the value itself. Without a player
the tune's instrument is played by a medium hand.
"""

from __future__ import annotations

from typing import Any, Unpack

from accomp.errors import InputError, Problem
from accomp.files import values
from accomp.files.data import DEFAULT_INSTRUMENT
from accomp.files.paths import StrPath
from accomp.files.values import setting_taken
from accomp.harmony import Chord, Key
from accomp.job.named import player_on
from accomp.job.options import Options
from accomp.job.positions import TuneNeck, in_its_place, tune_neck
from accomp.job.request import Request
from accomp.job.versions import Version, in_key
from accomp.neck import ChordShapes, Instrument, Plan, Player, Shape, chord_shapes, find_hand
from accomp.neck import playable_shapes as every_shape
from accomp.neck.hand import DEFAULT_HAND, Hand
from accomp.neck.player import EVERY, VOCABULARIES, VocabularyName
from accomp.notebook.keys import Keys
from accomp.notebook.piece import Piece
from accomp.notebook.positions import Positions
from accomp.notebook.wanted import (
    Manner,
    Wished,
    as_chord,
    as_instrument,
    as_player,
    asked_for,
    requested,
)
from accomp.tune import Tune, transpose_tune


def player(
    instrument: str | Instrument = DEFAULT_INSTRUMENT,
    hand: str = DEFAULT_HAND,
    *,
    reach_mm: float | None = None,
    repertoire: StrPath | None = None,
    costs: StrPath | None = None,
    mute: bool = False,
) -> Player:
    """A player: an instrument, a hand, and what they know.

    `instrument` and `hand` are names (`accomp.neck.instrument_names()` lists instruments; a hand is
    "small", "medium" or "large") or your own files. `reach_mm` is the greatest stretch of the hand
    in mm, `repertoire` a file of the shapes that the player knows, `costs` a file of weights of
    what is hard for them. `mute` allows shapes that leave one string more silent.

        >>> import accomp
        >>> accomp.player("tenor-banjo-19", hand="small")
        <Player of tenor-banjo-19, small hand>

    Raises `InputError` with everything that is missing or wrong.
    """

    def found() -> Player:
        files: dict[str, Any] = {"repertoire": repertoire, "costs": costs}
        options = Options(hand=hand, reach_mm=reach_mm, mute=mute, **files)
        return player_on(lambda: as_instrument(instrument), options)

    return asked_for(found)


def shapes(
    chord: str | Chord,
    player: Player | str = DEFAULT_INSTRUMENT,
    *,
    closed: bool = False,
    vocabulary: VocabularyName = EVERY,
    best: int | None = None,
) -> ChordShapes:
    """The shapes of a chord, best first.

    With `closed` they have no open strings. `vocabulary` ("first", "inversions", "all") limits
    them, and `best` their number.

        >>> import accomp
        >>> accomp.shapes("C7", best=3)
        <3 of 77 shapes of C7: 0 0 2 1, 4 3 5 3, 12 12 14 13>

    Raises `ChordError`, `InputError`, and `NoShapeError` when there is no shape.
    """
    who = as_player(player)
    Options(closed=closed, vocabulary=vocabulary)  # both checked in the usual words
    # None is an option ("as the tune says"), and there is no tune here.
    vocabulary = setting_taken("vocabulary", values.word(VOCABULARIES), vocabulary)
    if best is not None:
        best = setting_taken("best", values.whole(1), best)
    return chord_shapes(who, as_chord(chord), closed=closed, vocabulary=vocabulary, best=best)


def playable_shapes(
    chord: str | Chord,
    instrument: str | Instrument = DEFAULT_INSTRUMENT,
    hand: str | Hand = DEFAULT_HAND,
    *,
    mute: bool = False,
) -> tuple[Shape, ...]:
    """All shapes of a chord that a hand can play on an instrument, from the nut upward.

        >>> import accomp
        >>> accomp.playable_shapes("C7")[0].degrees
        ('1', '5', '3', 'b7')

    Raises `ChordError`, `InputError`, `TooManyShapesError`.
    """
    who = hand if isinstance(hand, Hand) else find_hand(hand)
    Options(mute=mute)  # checked in the usual words
    return every_shape(as_chord(chord), as_instrument(instrument), who, mute=mute)


def positions(tune: Tune, player: Player | str | None = None, **wish: Unpack[Wished]) -> Positions:
    """The positions of a tune: areas of the neck, each with a plan of one shape for each chord.

    `Wished` lists what may be wished. Without a player the tune's instrument is played by a medium
    hand.

        >>> import accomp
        >>> tune = accomp.tune("| C | A7 | D7 | G7 |", key="C")
        >>> found = accomp.positions(tune, "tenor-banjo", vocabulary="first")
        >>> found.names
        ('root-top', 'third-top', 'fifth-top', 'root-top-high')

    Raises `InputError` with every problem, or with each chord that has no shape.
    """
    request = requested(tune, player, wish)
    neck = _neck(request)
    with in_its_place(neck):
        return Positions(neck, neck.every)


def keys(tune: Tune, player: Player | str | None = None, **wish: Unpack[Wished]) -> Keys:
    """The positions of a tune on a player's neck in each of the 12 keys of its mode.

    `Wished` lists what may be wished; with a `key` there is only that key.

        >>> import accomp
        >>> tune = accomp.tune("| C | A7 | D7 | G7 |", key="C")
        >>> found = accomp.keys(tune, "tenor-banjo")
        >>> found["Bb"]
        <KeyPositions Bb: third-top, fifth-top, root-top, third-top-high>

    Raises `InputError` with every problem.
    """
    request = requested(tune, player, wish)
    neck = tune_neck(request.tune, request)
    rows = neck.neck.keys(neck.tune.key, neck.wish)
    if wish.get("key") is not None:
        rows = [row for row in rows if row.key in request.keys]
    return Keys(neck, tuple(rows))


def arrange(
    tune: Tune,
    player: Player | str | None = None,
    position: str | int | Plan | None = None,
    **manner: Unpack[Manner],
) -> Piece:
    """A tune as a player and a band play it, in one key, position and tempo.

    `position` is a name ("third-top"), the fret of the index finger, or one of `positions`. Without
    it each chorus is in the position that the tune names, or in the one to learn first. `Manner`
    lists the other arguments.

        >>> import accomp
        >>> tune = accomp.tune("| C | A7 | D7 | G7 |", key="C")
        >>> accomp.arrange(tune, position="third-top", style="two-beat", tempo=180)
        <Piece 'Untitled': C, third-top, 180 beats a minute, 2 choruses, tenor-banjo>

    Raises `InputError` with every problem, `NoShapeError` when there is no such position.
    """
    where: dict[str, str] = {}
    if position is not None and not isinstance(position, Plan):
        where = {"position": str(position)}
    request = requested(tune, player, {**manner, **where})
    if isinstance(position, Plan):
        version = _at(position, request)
    else:
        found = in_key(request, _key(request))
        if len(found) != 1:
            hint = "Ask for one position after another; `positions` lists them."
            message = "a piece is in one position."
            raise InputError(Problem(message, found="all", hint=hint, setting="position"))
        (version,) = found
    return Piece(version)


def _at(plan: Plan, request: Request) -> Version:
    """The version with this plan in every chorus. Raises `InputError` if it is not of this tune."""
    neck = _neck(request)
    if plan.chords != neck.chords.chords or not all(
        _sounds_on(shape, request.player.instrument) for shape in plan.path
    ):
        raise InputError(
            Problem(
                f"the position {plan.name} is not one of this tune in {_key(request)} for this "
                f"player.",
                found=plan.name,
                expected="a position of this tune, in this key",
                hint="Ask for it by its name, or take it from `positions` of the same tune, player "
                "and key.",
                setting="position",
            )
        )
    plans = (plan,) * request.choruses
    (tempo,) = request.tempos
    return Version(request, neck, plan.name, plans, tempo)


def _sounds_on(shape: Shape, instrument: Instrument) -> bool:
    """Whether a shape has the tuning of an instrument: its frets sound its pitches there."""
    strings = instrument.open_pitches
    return len(strings) == len(shape.frets) and shape.pitches == tuple(
        None if fret is None else pitch + fret
        for pitch, fret in zip(strings, shape.frets, strict=True)
    )


def _neck(request: Request) -> TuneNeck:
    return tune_neck(transpose_tune(request.tune, _key(request)), request)


def _key(request: Request) -> Key:
    """The only key of a request."""
    (key,) = request.keys
    return key
