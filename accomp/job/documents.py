"""JSON documents about positions, keys, shapes, styles, instruments and problems.

Conventions: scripts of users rely on the keys, so that these do not change.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from accomp.errors import Problem
from accomp.job.positions import TuneNeck
from accomp.neck import ChordShapes, Instrument, KeyPositions, Plan, Player
from accomp.neck.describe import keys_dict, positions_dict, shapes_dict
from accomp.rhythm import Style
from accomp.tune import Tune

# `setting` is the wrong field of `Options`, for a problem in no file, or the one that names a file
# which is missing or of no use.
PROBLEM_KEYS = ("file", "line", "column", "found", "expected", "hint", "message", "setting")


def positions_document(
    tune: Tune, neck: TuneNeck, plans: Sequence[Plan], notices: Sequence[str]
) -> dict[str, Any]:
    """The positions of a tune."""
    meters = {bar.number: bar.meter for bar in neck.chords.bars}
    places = [(bar, float(1 + start / meters[bar].beat)) for bar, start in neck.chords.places]
    taught = neck.lesson_of(plans)
    found = positions_dict(tune.title, tune.key, taught, neck.chords.chords, places, neck.costs)
    first = neck.neck.best(neck.wish).name
    wished = {"vocabulary": neck.wish.vocabulary, "notices": list(notices)}
    return {**found, "learn_first": first, **wished}


def keys_document(
    tune: Tune, neck: TuneNeck, rows: Sequence[KeyPositions], notices: Sequence[str]
) -> dict[str, Any]:
    """The positions of a tune in each key."""
    found = keys_dict(tune.title, neck.neck.player.instrument, rows)
    return {**found, "vocabulary": neck.wish.vocabulary, "notices": list(notices)}


def shapes_document(found: ChordShapes, player: Player) -> dict[str, Any]:
    """The best shapes of a chord, and the number of all its shapes (`of`)."""
    document = shapes_dict(found.chord, found.shapes, player.cost_model())
    return {**document, "of": found.of, "notices": player_notices(player)}


def neck_notices(neck: TuneNeck, how: str = "") -> list[str]:
    """Notices about the tune's chords, the instrument and the player's repertoire.

    `how` is added to the notice of a proposed repertoire and says what to do about it.
    """
    return [*neck.chords.notices, *player_notices(neck.neck.player, how)]


def player_notices(player: Player, how: str = "") -> list[str]:
    """Notices about an instrument and the player's repertoire; `how` as in `neck_notices`."""
    said = [*player.instrument.notices]
    if player.repertoire.proposed:
        proposed = (
            f"No repertoire is known for {player.instrument.title}: the program proposes "
            f"{', '.join(player.repertoire.names)}. {how}"
        )
        said.append(proposed.strip())
    return said


def problem_rows(problems: Iterable[Problem]) -> list[dict[str, Any]]:
    """Problems, one row each."""
    return [{key: getattr(problem, key) for key in PROBLEM_KEYS} for problem in problems]


def style_row(style: Style) -> dict[str, Any]:
    """A style as a row of the list of styles."""
    return {
        "name": style.name,
        "title": style.title,
        "meter": str(style.meter),
        "tempo": list(style.tempo),
        "mood": style.mood,
        "right_hand": style.right_hand,
        "players": list(style.players),
        "swing": "by tempo" if style.swing_by_tempo else style.swing,
    }


def instrument_row(each: Instrument) -> dict[str, Any]:
    """An instrument as a row of the list of instruments."""
    return {
        "name": each.name,
        "title": each.title,
        "strings": [str(pitch) for pitch in each.strings],
        "frets": each.frets,
        "scale_mm": each.scale_mm,
        "courses": each.courses,
        "program": each.program,
        "octave": each.octave,
        "notices": list(each.notices),
    }
