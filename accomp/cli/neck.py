"""`accomp shapes`, `accomp positions`, `accomp keys`: the neck, drawn and explained."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from accomp.cli.options import PATH, PLAN, PLAYER, REPLACE, options

if TYPE_CHECKING:
    from accomp.errors import Problem
    from accomp.harmony import Chord
    from accomp.job.options import Options
    from accomp.job.positions import TuneNeck
    from accomp.tune import Tune

_SHOWN = (
    click.option("--svg", type=PATH, metavar="FILE", help="Draw the chord boxes into a file."),
    click.option("--json", "as_json", is_flag=True, help="Print JSON, nothing else."),
)
_KEY = (click.option("--key", help="Key to plan in, as F or Dm; default: the tune's own."),)

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
    type=PATH,
    metavar="FILE",
    help="Write the repertoire in use to a file, to be edited.",
)
@options(PLAYER, _SHOWN, REPLACE)
def shapes(
    chords: tuple[str, ...], best: int | None, vocabulary: str, known: bool, **given: Any
) -> None:
    """Show every playable shape of each CHORD, best first, as chord boxes."""
    from accomp.cli import neck_text as text
    from accomp.cli.saying import say_json
    from accomp.job.named import find_player
    from accomp.job.options import Options
    from accomp.neck import chord_shapes
    from accomp.neck.describe import shapes_dict

    shown = {name: given.pop(name) for name in ("explain", "write_repertoire", "svg", "as_json")}
    wanted = Options(**given)
    player, closed = find_player(wanted), wanted.closed is True
    grade = "first" if known else vocabulary
    found = [
        chord_shapes(player, chord, closed=closed, vocabulary=grade, best=best)
        for chord in _chords(chords)
    ]
    if shown["write_repertoire"] is not None:
        _write(shown["write_repertoire"], player.repertoire.text(), wanted)
    if shown["svg"] is not None:
        rows = [(text.shapes_heading(one, player), text.shapes_boxes(one)) for one in found]
        _write_boxes(shown["svg"], rows, wanted)
    if shown["as_json"]:
        costs = player.cost_model()
        documents = [shapes_dict(one.chord, one.shapes, costs) for one in found]
        say_json(documents[0] if len(documents) == 1 else documents)
        return
    lines: list[str] = []
    for one in found:
        lines += ["", text.shapes_heading(one, player), "", *_draw(text.shapes_boxes(one))]
        if shown["explain"]:
            lines += ["", *text.shapes_words(one)]
    _echo([*lines[1:], "", LEGEND])


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
@click.argument("tune", type=PATH)
@click.option(
    "--position", "only", multiple=True, help="Show this position only, or this fret; repeatable."
)
@click.option("--explain", is_flag=True, help="The lesson: how shapes are made, what to drill.")
@options(_KEY, PLAN, PLAYER, _SHOWN, REPLACE)
def positions(
    tune: Path, only: tuple[str, ...], explain: bool, svg: Path | None, as_json: bool, **given: Any
) -> None:
    """Show the positions in which TUNE can be played, side by side.

    Long or wide stretches: stop if it hurts; a teacher's or physiotherapist's word goes first.
    """
    from accomp.cli import neck_text as text
    from accomp.cli.saying import say_json, tell_notes
    from accomp.errors import NoShapeError
    from accomp.job.documents import positions_document
    from accomp.job.positions import in_its_place

    there, neck, wanted = _on_the_neck(tune, positions=only, **given)
    player, chords = neck.neck.player, neck.chords.chords
    try:
        plans = neck.neck.positions(neck.wish)
    except NoShapeError as error:
        raise in_its_place(error, neck) from None
    if svg is not None:
        rows = [(text.facts(plan), text.boxes(plan, chords)) for plan in plans]
        _write_boxes(svg, rows, wanted, tune)
    if as_json:
        say_json(positions_document(there, neck, plans, text.notices(neck)))
        return
    lines = [text.heading(there, player)]
    if explain:
        lines += ["", *text.explained(there, neck, plans, _draw_rows)]
    else:
        for plan in plans:
            lines += ["", text.facts(plan), "", *_draw(text.boxes(plan, chords))]
            lines += [f"Note: {notice}" for notice in plan.notices]
    _echo(lines)
    tell_notes([*there.notices, *text.notices(neck)])


@click.command(short_help="Show which keys suit which positions on an instrument.")
@click.argument("tune", type=PATH)
@options(_KEY, PLAN, PLAYER, _SHOWN, REPLACE)
def keys(tune: Path, svg: Path | None, as_json: bool, **given: Any) -> None:
    """Show for each of the 12 keys the positions in which TUNE can be played."""
    from accomp.cli import neck_text as text
    from accomp.cli.saying import say_json, say_table, tell_notes
    from accomp.job.documents import keys_document

    there, neck, wanted = _on_the_neck(tune, **given)
    rows = neck.neck.keys(there.key, neck.wish)
    if svg is not None:
        boxes_of = [(str(row.key), text.home_boxes(row, neck)) for row in rows]
        _write_boxes(svg, boxes_of, wanted, tune)
    if as_json:
        say_json(keys_document(there, neck, rows, text.notices(neck)))
        return
    for row in rows:
        boxes = text.home_boxes(row, neck)
        _echo([f"{row.key}", *(_draw(boxes) if boxes else [f"   {row.problem}"]), ""])
    say_table(text.KEYS_HEAD, [line for row in rows for line in text.key_lines(row)])
    tell_notes(text.notices(neck))


def _on_the_neck(path: Path, *, key: str | None, **wanted: Any) -> tuple[Tune, TuneNeck, Options]:
    """The tune in the key asked for, its chords on the neck of the player asked for, and what
    was asked."""
    from accomp.errors import InputError, Problem
    from accomp.job.options import Options
    from accomp.job.positions import tune_neck
    from accomp.job.request import resolve
    from accomp.tune import read_tune, transpose_tune

    tune = read_tune(path)
    request = resolve(tune, Options(keys=() if key is None else (key,), **wanted))
    if len(request.keys) > 1:
        message = "positions are shown in one key; `accomp keys` shows all of them."
        raise InputError(Problem(message, found=str(key), setting="keys"))
    neck = tune_neck(transpose_tune(tune, request.keys[0]), request)
    return neck.tune, neck, request.options


def _draw(boxes: Sequence[tuple[str, Any]]) -> list[str]:
    """Boxes of shapes, as many side by side as the terminal is wide."""
    return _draw_rows([(title, shape.frets, shape.fingers) for title, shape in boxes])


def _draw_rows(boxes: Sequence[Any]) -> list[str]:
    from accomp.write.box import boxes_lines

    return boxes_lines(boxes, width=shutil.get_terminal_size().columns)


def _echo(lines: Sequence[str]) -> None:
    from accomp.cli.saying import say

    say("\n".join(lines))


def _write_boxes(path: Path, rows: Sequence[Any], given: Options, *inputs: Path) -> None:
    from accomp.write.diagram import box_rows_svg

    _write(path, box_rows_svg(rows), given, *inputs)


def _write(path: Path, text: str, given: Options, *inputs: Path) -> None:
    """Write a file aside and move it into place; it is none of the files that the command reads."""
    from accomp.files.aside import Batch
    from accomp.files.folders import output_errors

    names = (given.instrument, given.hand)
    named = [Path(name) for name in names if name and name.endswith(".toml")]
    read = [*inputs, *named, *filter(None, (given.repertoire, given.costs))]
    with (
        Batch(path.parent, replace=given.replace, inputs=read) as batch,
        output_errors(path.parent),
    ):
        batch.path(path.name).write_text(text, encoding="utf-8")
        batch.commit()
