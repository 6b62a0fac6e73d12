"""`accomp shapes`, `accomp positions`, `accomp keys`: the neck, drawn and explained."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from accomp.errors import Problem
    from accomp.harmony import Chord
    from accomp.job.positions import TuneNeck
    from accomp.neck import Player
    from accomp.tune import Tune

_PATH = click.Path(path_type=Path)
Command = TypeVar("Command", bound=Callable[..., Any])

_PLAYER = (
    click.option("--instrument", help="Instrument; see `accomp instruments`."),
    click.option("--hand", default="medium", show_default=True, help="small, medium or large."),
    click.option("--reach", "reach_mm", type=float, metavar="MM", help="Greatest reach in mm."),
    click.option("--repertoire", type=_PATH, metavar="FILE", help="The shapes the player knows."),
    click.option("--costs", type=_PATH, metavar="FILE", help="Weights of the cost model."),
    click.option(
        "--open/--closed", "opened", default=None, help="Allow open strings everywhere, or nowhere."
    ),
    click.option("--mute", is_flag=True, help="Allow shapes that leave one string more out."),
    click.option("--svg", type=_PATH, metavar="FILE", help="Draw the chord boxes into a file."),
    click.option("--json", "as_json", is_flag=True, help="Print JSON, nothing else."),
)
_TUNE = (
    click.option("--key", help="Key to plan in, as F or Dm; default: the tune's own."),
    click.option(
        "--plan",
        type=click.Choice(["fixed", "free"]),
        default="fixed",
        show_default=True,
        help="fixed: one shape a chord; free: it may differ at each change.",
    ),
    click.option(
        "--vocabulary",
        type=click.Choice(["first", "inversions", "all"]),
        help="Shapes to choose from: first: what the repertoire makes; inversions: these and the "
        "inversions of four-note chords (default, without --repertoire); all: every playable one.",
    ),
    click.option(
        "--shapes",
        type=click.Choice(["known", "all"]),
        help="The older name of --vocabulary; known is its first.",
    ),
)


def _options(*groups: Sequence[Callable[[Any], Any]]) -> Callable[[Command], Command]:
    """All options of some groups as one decorator, in their order."""

    def add(command: Command) -> Command:
        for option in reversed([option for group in groups for option in group]):
            command = option(command)
        return command

    return add


LEGEND = "Above each box stands the degree on top; * is a shape made from the repertoire."


@click.command(short_help="Show every playable shape of a chord, best first.")
@click.argument("chords", nargs=-1, required=True, metavar="CHORD...")
@click.option("--best", type=click.IntRange(1), metavar="N", help="Show the N best only.")
@click.option(
    "--vocabulary",
    type=click.Choice(["first", "inversions", "all"]),
    default="all",
    help="Shapes to show: first: made from the repertoire; inversions: these and the inversions.",
)
@click.option("--known", is_flag=True, help="The same as --vocabulary first.")
@click.option("--explain", is_flag=True, help="Say how each known shape is made.")
@click.option(
    "--write-repertoire",
    type=_PATH,
    metavar="FILE",
    help="Write the repertoire in use to a file, to be edited.",
)
@_options(_PLAYER)
def shapes(
    chords: tuple[str, ...], best: int | None, vocabulary: str, known: bool, **given: Any
) -> None:
    """Show every playable shape of each CHORD, best first, as chord boxes."""
    from accomp.cli import neck_text as text
    from accomp.cli.listing import echo_json
    from accomp.neck import chord_shapes
    from accomp.neck.describe import shapes_dict

    shown = {name: given.pop(name) for name in ("explain", "write_repertoire", "svg", "as_json")}
    closed = given.pop("opened") is False
    grade = "first" if known else vocabulary
    player = _player(**given)
    found = [
        chord_shapes(player, chord, closed=closed, vocabulary=grade, best=best)
        for chord in _chords(chords)
    ]
    if shown["write_repertoire"] is not None:
        _write(shown["write_repertoire"], player.repertoire.text())
    if shown["svg"] is not None:
        rows = [(text.shapes_heading(one, player), text.shapes_boxes(one)) for one in found]
        _write_boxes(shown["svg"], rows)
    if shown["as_json"]:
        costs = player.cost_model()
        documents = [shapes_dict(one.chord, one.shapes, costs) for one in found]
        echo_json(documents[0] if len(documents) == 1 else documents)
        return
    lines: list[str] = []
    for one in found:
        lines += ["", text.shapes_heading(one, player), "", *_draw(text.shapes_boxes(one))]
        if shown["explain"]:
            lines += ["", *text.shapes_words(one)]
    _echo([*lines[1:], "", LEGEND])


def _player(
    instrument: str | None,
    hand: str,
    reach_mm: float | None,
    repertoire: Path | None,
    costs: Path | None,
    mute: bool,
) -> Player:
    """The player that the options describe. Raises `InputError`."""
    from accomp.job.named import instrument_named
    from accomp.neck import Player, find_hand, read_repertoire, read_weights
    from accomp.neck.read import DEFAULT_INSTRUMENT

    played = instrument_named(instrument or DEFAULT_INSTRUMENT)
    own = find_hand(hand)
    return Player.on(
        played,
        own if reach_mm is None else own.with_reach(reach_mm),
        None if repertoire is None else read_repertoire(repertoire, played),
        mute=mute,
        weights=None if costs is None else read_weights(costs),
    )


def _chords(symbols: Sequence[str]) -> list[Chord]:
    """The chords named. Raises `InputError` with every symbol that is none."""
    from accomp.errors import ChordError, InputError
    from accomp.harmony import parse_chord

    found: list[Chord] = []
    problems: list[Problem] = []
    for symbol in symbols:
        try:
            found.append(parse_chord(symbol))
        except ChordError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return found


@click.command(short_help="Show the areas of the neck in which a tune lies well.")
@click.argument("tune", type=_PATH)
@click.option(
    "--position", "only", multiple=True, help="Show this position only, or this fret; repeatable."
)
@click.option("--explain", is_flag=True, help="The lesson: how shapes are made, what to drill.")
@_options(_TUNE, _PLAYER)
def positions(
    tune: Path, only: tuple[str, ...], explain: bool, svg: Path | None, as_json: bool, **given: Any
) -> None:
    """Show the positions in which TUNE can be played, side by side.

    Long or wide stretches: stop if it hurts; a teacher's or physiotherapist's word goes first.
    """
    from accomp.cli import neck_text as text
    from accomp.cli.listing import echo_json
    from accomp.errors import NoShapeError
    from accomp.job.positions import in_its_place

    there, neck = _on_the_neck(tune, positions=only, **given)
    player, chords = neck.neck.player, neck.chords.chords
    try:
        plans = neck.neck.positions(neck.wish)
    except NoShapeError as error:
        raise in_its_place(error, there, player, neck.wish) from None
    if svg is not None:
        _write_boxes(svg, [(text.facts(plan), text.boxes(plan, chords)) for plan in plans])
    if as_json:
        echo_json(text.positions_document(there, neck, plans))
        return
    lines = [text.heading(there, player)]
    if explain:
        lines += ["", *text.explained(there, neck, plans, _draw_rows)]
    else:
        for plan in plans:
            lines += ["", text.facts(plan), "", *_draw(text.boxes(plan, chords))]
            lines += [f"Note: {notice}" for notice in plan.notices]
    _echo(lines)
    for notice in dict.fromkeys((*there.notices, *text.notices(neck))):
        _tell(notice)


@click.command(short_help="Show which keys suit which positions on an instrument.")
@click.argument("tune", type=_PATH)
@_options(_TUNE, _PLAYER)
def keys(tune: Path, svg: Path | None, as_json: bool, **given: Any) -> None:
    """Show for each of the 12 keys the positions in which TUNE can be played."""
    from accomp.cli import neck_text as text
    from accomp.cli.listing import echo_json, echo_table

    there, neck = _on_the_neck(tune, **given)
    rows = neck.neck.keys(there.key, neck.wish)
    if svg is not None:
        _write_boxes(svg, [(str(row.key), text.home_boxes(row, neck)) for row in rows])
    if as_json:
        echo_json(text.keys_document(there, neck, rows))
        return
    for row in rows:
        boxes = text.home_boxes(row, neck)
        _echo([f"{row.key}", *(_draw(boxes) if boxes else [f"   {row.problem}"]), ""])
    echo_table(text.KEYS_HEAD, [line for row in rows for line in text.key_lines(row)])
    for notice in text.notices(neck):
        _tell(notice)


def _on_the_neck(
    path: Path, *, key: str | None, opened: bool | None, **options: Any
) -> tuple[Tune, TuneNeck]:
    """The tune in the key asked for, and its chords on the neck of the player asked for."""
    from accomp.errors import InputError, Problem
    from accomp.job.asked import understand
    from accomp.job.options import Options
    from accomp.job.positions import tune_neck
    from accomp.tune import read_tune, transpose_tune

    tune = read_tune(path)
    keys = () if key is None else (key,)
    closed = None if opened is None else not opened
    asked = understand(tune, Options(keys=keys, closed=closed, **options))
    if len(asked.keys) > 1:
        message = "positions are shown in one key; `accomp keys` shows all of them."
        raise InputError(Problem(message, "--key", found=str(key)))
    moved = transpose_tune(tune, asked.keys[0])
    return moved, tune_neck(moved, asked)


def _draw(boxes: Sequence[tuple[str, Any]]) -> list[str]:
    """Boxes of shapes, as many side by side as the terminal is wide."""
    return _draw_rows([(title, shape.frets, shape.fingers) for title, shape in boxes])


def _draw_rows(boxes: Sequence[Any]) -> list[str]:
    from accomp.write.boxes_text import boxes_lines

    return boxes_lines(boxes, width=shutil.get_terminal_size().columns)


def _echo(lines: Sequence[str]) -> None:
    from accomp.cli import printable

    click.echo(printable("\n".join(lines)))


def _tell(notice: str) -> None:
    from accomp.cli import printable

    click.echo(printable(f"Note: {notice}"), err=True)


def _write_boxes(path: Path, rows: Sequence[Any]) -> None:
    from accomp.write.box_rows import box_rows_svg

    _write(path, box_rows_svg(rows))


def _write(path: Path, text: str) -> None:
    """Write a file aside and move it into place."""
    from accomp.files.aside import Batch
    from accomp.files.folders import output_errors

    with Batch(path.parent) as batch, output_errors(path.parent):
        batch.path(path.name).write_text(text, encoding="utf-8")
        batch.commit()
