"""Lines and boxes that `accomp shapes`, `positions` and `keys` show."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from accomp.job.documents import neck_notices, player_notices
from accomp.job.positions import TuneNeck
from accomp.neck import ChordShapes, KeyPositions, Plan, Player, Shape
from accomp.neck.explain import explain, handout_lines
from accomp.neck.handout import handouts
from accomp.neck.naming import left_out
from accomp.tune import Tune

_TO_EDIT = (
    "`accomp shapes --write-repertoire FILE`, with the same --instrument, writes it for you to "
    "edit."
)
KEYS_HEAD = ("key", "position", "frets", "stretch", "cost", "strings", "slid from")

Boxes = list[tuple[str, Shape]]


def shapes_heading(found: ChordShapes, player: Player) -> str:
    """The chord, its tones and the number of shapes."""
    tones = " ".join(str(tone.spelling) for tone in found.chord.tones)
    shown = "" if len(found.shapes) == found.of else f", the best {len(found.shapes)}"
    return f"{found.chord} ({tones}) on {player.instrument.title}: {found.of} shapes{shown}"


def shapes_boxes(found: ChordShapes) -> Boxes:
    """(title, shape) of each; the title is the degree on top, with * for a known shape."""
    return [(f"{shape.top}{'*' if known else ''}", shape) for shape, known in found.shapes]


def shapes_words(found: ChordShapes) -> list[str]:
    """A line for each known shape: how it is made and what it leaves out."""
    return [
        "; ".join(
            [
                f"  {known.derivation.words(str(found.chord))}".rstrip("."),
                *left_out(known.shape.degrees, found.chord),
            ]
        )
        + "."
        for _, known in found.shapes
        if known is not None
    ]


def heading(tune: Tune, player: Player) -> str:
    """Title and key of a tune, and the instrument."""
    return f"{tune.title}, in {tune.key}, on {player.instrument.title}"


def to_learn_first(neck: TuneNeck) -> str:
    """The line that names the position to learn first."""
    return f"To learn first: {neck.neck.best(neck.wish).name}."


def boxes(plan: Plan) -> Boxes:
    """Each different shape of a plan with its chord, in order of first use."""
    return [(str(chord), shape) for chord, shape in plan.boxes]


def explained(neck: TuneNeck, plans: Sequence[Plan], draw: Callable[[Any], list[str]]) -> list[str]:
    """The hand-outs of the positions."""
    player = neck.neck.player
    strings, comfort_mm = len(player.instrument.strings), player.hand.comfort_mm
    return handout_lines(handouts(neck.lesson_of(plans), strings, comfort_mm), draw)


def explained_in_full(
    neck: TuneNeck, plans: Sequence[Plan], draw: Callable[[Any], list[str]]
) -> list[str]:
    """The lesson in words and boxes."""
    player = neck.neck.player
    return explain(
        neck.lesson_of(plans),
        player.instrument,
        [bar for bar, _ in neck.chords.places],
        comfort_mm=player.hand.comfort_mm,
        draw=draw,
    )


def home_boxes(row: KeyPositions, neck: TuneNeck) -> Boxes:
    """The shape of the home chord in each position of a key."""
    at = neck.chords.chords.index(neck.chords.home)
    return [(one.plan.name, one.plan.path[at]) for one in row.positions]


def key_lines(row: KeyPositions) -> list[tuple[str, ...]]:
    """One line of the table for each position of a key."""
    if not row.positions:
        return [(str(row.key), "none", "", "", "", "", "")]
    return [
        (
            str(row.key),
            one.plan.name,
            f"{one.plan.frets[0]}-{one.plan.frets[1]}",
            f"{one.plan.stretch_mm:.0f} mm",
            f"{one.plan.cost:.1f}",
            "open" if one.plan.open else "closed",
            "" if one.slid_from is None else " ".join(one.slid_from),
        )
        for one in row.positions
    ]


def notices(neck: TuneNeck) -> list[str]:
    """Notices about the tune's chords, the instrument and the player's repertoire."""
    return neck_notices(neck, _TO_EDIT)


def player_notes(player: Player) -> list[str]:
    """Notices about an instrument and the player's repertoire."""
    return player_notices(player, _TO_EDIT)
