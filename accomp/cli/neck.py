"""`accomp shapes`, `accomp positions`, `accomp keys`: the neck, drawn and explained."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from accomp.cli.tune_neck import TuneNeck

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
        "--shapes",
        type=click.Choice(["known", "all"]),
        default="known",
        show_default=True,
        help="known: shapes made from the repertoire; all: every playable one.",
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
@click.option("--known", is_flag=True, help="Show only shapes made from the repertoire.")
@click.option("--explain", is_flag=True, help="Say how each known shape is made.")
@click.option(
    "--write-repertoire",
    type=_PATH,
    metavar="FILE",
    help="Write the repertoire in use to a file, to be edited.",
)
@_options(_PLAYER)
def shapes(
    chords: tuple[str, ...],
    best: int | None,
    known: bool,
    explain: bool,
    write_repertoire: Path | None,
    svg: Path | None,
    as_json: bool,
    **player: Any,
) -> None:
    """Show every playable shape of each CHORD, best first, as chord boxes."""
    from accomp.cli.chord_neck import ChordNeck
    from accomp.cli.listing import echo_json

    neck = ChordNeck(**player)
    found = [neck.ranked(chord, known=known)[:best] for chord in neck.chords(chords)]
    if write_repertoire is not None:
        _write(write_repertoire, neck.knowledge.repertoire.text())
    if svg is not None:
        _write_boxes(svg, [(ranked.heading, ranked.boxes) for ranked in found])
    if as_json:
        documents = [ranked.document(neck.pricing) for ranked in found]
        echo_json(documents[0] if len(documents) == 1 else documents)
        return
    lines: list[str] = []
    for ranked in found:
        lines += ["", ranked.heading, "", *_draw(ranked.boxes)]
        if explain:
            lines += ["", *ranked.words()]
    _echo([*lines[1:], "", LEGEND])


@click.command(short_help="Show the areas of the neck in which a tune lies well.")
@click.argument("tune", type=_PATH)
@click.option(
    "--position", "only", multiple=True, help="Show this position only, or this fret; repeatable."
)
@click.option("--explain", is_flag=True, help="The lesson: how shapes are made, what to drill.")
@_options(_TUNE, _PLAYER)
def positions(
    tune: Path,
    only: tuple[str, ...],
    explain: bool,
    svg: Path | None,
    as_json: bool,
    **asked: Any,
) -> None:
    """Show the positions in which TUNE can be played, side by side.

    Long or wide stretches: stop if it hurts; a teacher's or physiotherapist's word goes first.
    """
    from accomp.cli.listing import echo_json
    from accomp.cli.tune_neck import TuneNeck

    neck = TuneNeck(tune, **asked)
    plans = neck.plans(only)
    if svg is not None:
        rows = [(neck.facts(plan), neck.boxes(plan)) for plan in plans]
        _write_boxes(svg, rows)
    if as_json:
        echo_json(neck.document(plans))
        return
    if explain:
        _echo([*neck.heading(), "", *neck.explained(plans, _draw_rows)])
    else:
        _echo(_side_by_side(neck, plans))
    for notice in neck.notices:
        _tell(notice)


@click.command(short_help="Show which keys suit which positions on an instrument.")
@click.argument("tune", type=_PATH)
@_options(_TUNE, _PLAYER)
def keys(tune: Path, svg: Path | None, as_json: bool, **asked: Any) -> None:
    """Show for each of the 12 keys the positions in which TUNE can be played."""
    from accomp.cli.listing import echo_json, echo_table
    from accomp.cli.tune_neck import TuneNeck

    neck = TuneNeck(tune, **asked)
    rows = neck.keys()
    if svg is not None:
        _write_boxes(svg, [(str(row.key), neck.home_boxes(row)) for row in rows])
    if as_json:
        echo_json(neck.keys_document(rows))
        return
    for row in rows:
        boxes = neck.home_boxes(row)
        _echo([f"{row.key}", *(_draw(boxes) if boxes else [f"   {row.problem}"]), ""])
    echo_table(neck.KEYS_HEAD, [line for row in rows for line in neck.key_lines(row)])
    for notice in neck.notices:
        _tell(notice)


def _side_by_side(neck: TuneNeck, plans: Sequence[Any]) -> list[str]:
    lines = neck.heading()
    for plan in plans:
        lines += ["", neck.facts(plan), "", *_draw(neck.boxes(plan))]
        lines += [f"Note: {notice}" for notice in plan.notices]
    return lines


def _draw(boxes: Sequence[tuple[str, Any]]) -> list[str]:
    """Boxes of shapes, as many side by side as the terminal is wide."""
    return _draw_rows([(title, shape.frets, shape.fingers) for title, shape in boxes])


def _draw_rows(boxes: Sequence[Any]) -> list[str]:
    from accomp.write.box import boxes_lines

    return boxes_lines(boxes, width=shutil.get_terminal_size().columns)


def _echo(lines: Sequence[str]) -> None:
    from accomp.cli import printable

    click.echo(printable("\n".join(lines)))


def _tell(notice: str) -> None:
    from accomp.cli import printable

    click.echo(printable(f"Note: {notice}"), err=True)


def _write_boxes(path: Path, rows: Sequence[Any]) -> None:
    from accomp.write.diagram import box_rows_svg

    _write(path, box_rows_svg(rows))


def _write(path: Path, text: str) -> None:
    """Write a file aside and move it into place."""
    from accomp.files.aside import Batch
    from accomp.files.folders import output_errors

    with Batch(path.parent) as batch, output_errors(path.parent):
        batch.path(path.name).write_text(text, encoding="utf-8")
        batch.commit()
