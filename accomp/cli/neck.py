"""`accomp shapes`, `accomp positions`, `accomp keys`: the neck, drawn and explained."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, get_args

import click

from accomp.cli import words
from accomp.cli.options import PATH, PLAN, PLAYER, REPLACE, STDOUT, Whole, options
from accomp.neck.player import EVERY, FIRST, VOCABULARIES, VocabularyName

if TYPE_CHECKING:
    from accomp.errors import Problem
    from accomp.harmony import Chord
    from accomp.job.options import Options
    from accomp.job.positions import TuneNeck
    from accomp.job.request import Request
    from accomp.tune import Tune

_SHOWN = (
    click.option("--svg", type=PATH, metavar="FILE", help="Draw the chord boxes into a file."),
    click.option("--json", "as_json", is_flag=True, help="Print JSON, nothing else."),
)
_KEY = (
    click.option(
        "--key",
        shell_complete=words.KEYS,
        help="Key to plan in, as F or Dm; default: the tune's own.",
    ),
)

A_DOZEN = 12
_EXPLAIN = "--explain"
_Length = Literal["short", "full"]
_LENGTHS: tuple[_Length, ...] = get_args(_Length)
LEGEND = "Above each box stands the degree on top; * is a shape made from the repertoire."


@click.command(short_help="Show every playable shape of a chord, best first.")
@click.argument("chords", nargs=-1, metavar="CHORD...", shell_complete=words.CHORDS)
@click.option(
    "--best",
    type=Whole(1),
    metavar="N",
    help=f"Show the N best only; default: {A_DOZEN}, and all as JSON or with --svg.",
)
@click.option(
    "--vocabulary",
    type=click.Choice(VOCABULARIES),
    default=EVERY,
    help="Shapes to show: first: made from the repertoire; inversions: these and the inversions.",
)
@click.option("--known", is_flag=True, help="The same as --vocabulary first.")
@click.option("--explain", is_flag=True, help="Say how each known shape is made.")
@click.option(
    "--write-repertoire",
    type=PATH,
    metavar="FILE",
    help="Write the repertoire in use to a file, to be edited, and do nothing else.",
)
@options(PLAYER, _SHOWN, REPLACE)
def shapes(
    chords: tuple[str, ...], best: int | None, vocabulary: VocabularyName, known: bool, **given: Any
) -> None:
    """Show the playable shapes of each CHORD, best first, as chord boxes."""
    from accomp.cli import neck_text as text
    from accomp.cli.saying import say_json, tell_notes
    from accomp.cli.usual import wanted
    from accomp.cli.writing import say_written, write_text
    from accomp.job.documents import shapes_document
    from accomp.job.named import find_player
    from accomp.neck import chord_shapes

    shown = {name: given.pop(name) for name in ("explain", "write_repertoire", "svg", "as_json")}
    asked = wanted(**given)
    player, closed = find_player(asked), asked.closed is True
    if shown["write_repertoire"] is not None:
        text_of_it = player.repertoire.text()
        path = shown["write_repertoire"]
        write_text(path, text_of_it, replace=asked.replace, inputs=_read_by(asked))
        say_written(path)
        return
    if not chords:
        raise click.UsageError("Name one or more chords, as C7 or Gm7b5.")
    in_all = shown["as_json"] or shown["svg"] is not None
    found = [
        chord_shapes(
            player,
            chord,
            closed=closed,
            vocabulary=FIRST if known else vocabulary,
            best=best or (None if in_all else A_DOZEN),
        )
        for chord in _chords(chords)
    ]
    if shown["svg"] is not None:
        rows = [(text.shapes_heading(one, player), text.shapes_boxes(one)) for one in found]
        _write_boxes(shown["svg"], rows, asked)
        if shown["svg"] == STDOUT:
            return
    if shown["as_json"]:
        documents = [shapes_document(one, player) for one in found]
        say_json(documents[0] if len(documents) == 1 else documents)
        return
    lines: list[str] = []
    for one in found:
        lines += ["", text.shapes_heading(one, player), "", *_draw(text.shapes_boxes(one))]
        if shown["explain"]:
            lines += ["", *text.shapes_words(one)]
        if best is None and one.of > len(one.shapes):
            more = one.of - len(one.shapes)
            lines += ["", f"and {more} more: --best {one.of} shows all."]
    _echo([*lines[1:], "", LEGEND])
    tell_notes(text.player_notes(player))


def _chords(symbols: Sequence[str]) -> list[Chord]:
    """The chords of symbols. Raises `InputError` with every symbol that is wrong."""
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


class _ExplainedCommand(click.Command):
    """A command whose `--explain` has an optional value; any other word after it is an argument."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Write an `--explain` without a value in full before parsing."""
        end = args.index("--") if "--" in args else len(args)
        for index, (one, after) in enumerate(zip(args[:end], [*args[1:], ""], strict=False)):
            if one == _EXPLAIN and after not in _LENGTHS:
                args[index] = f"{_EXPLAIN}={_LENGTHS[0]}"
        return super().parse_args(ctx, args)


@click.command(
    cls=_ExplainedCommand, short_help="Show the areas of the neck in which a tune lies well."
)
@click.argument("tune", type=PATH)
@click.option(
    "--position",
    "only",
    multiple=True,
    shell_complete=words.POSITIONS,
    help="Show this position only, or this fret; repeatable.",
)
@click.option(
    _EXPLAIN,
    is_flag=False,
    flag_value=_LENGTHS[0],
    type=click.Choice(_LENGTHS),
    help="A lesson to take home of each position: its grips, what to drill and to learn next; "
    "full: also how each shape is made and all changes.",
)
@options(_KEY, PLAN, PLAYER, _SHOWN, REPLACE)
def positions(
    tune: Path,
    only: tuple[str, ...],
    explain: _Length | None,
    svg: Path | None,
    as_json: bool,
    **given: Any,
) -> None:
    """Show the positions in which TUNE can be played, side by side.

    Long or wide stretches: stop if it hurts; a teacher's or physiotherapist's word goes first.
    """
    from accomp.cli import neck_text as text
    from accomp.cli.problems import notice_text
    from accomp.cli.saying import say_json, tell_notes
    from accomp.job.documents import positions_document
    from accomp.job.positions import in_its_place

    there, neck, asked = _on_the_neck(tune, positions=only, **given)
    with in_its_place(neck):
        plans = neck.asked_for()
    if svg is not None:
        rows = [(plan.facts, text.boxes(plan)) for plan in plans]
        _write_boxes(svg, rows, asked, tune)
        if svg == STDOUT:
            return
    if as_json:
        say_json(positions_document(there, neck, plans, text.notices(neck)))
        return
    lines = [text.heading(there, neck.neck.player), text.to_learn_first(neck)]
    if explain:
        told = text.explained_in_full if explain == "full" else text.explained
        lines += ["", *told(neck, plans, _draw_rows)]
    else:
        for plan in plans:
            lines += ["", plan.facts, "", *_draw(text.boxes(plan))]
            lines += [f"Note: {notice_text(notice)}" for notice in plan.notices]
    _echo(lines)
    tell_notes([*there.notices, *text.notices(neck)])


@click.command(short_help="Show which keys suit which positions on an instrument.")
@click.argument("tune", type=PATH)
@click.option(
    "--key",
    "only",
    multiple=True,
    shell_complete=words.KEYS,
    help="Show this key only; repeatable.",
)
@options(PLAN, PLAYER, _SHOWN, REPLACE)
def keys(tune: Path, only: tuple[str, ...], svg: Path | None, as_json: bool, **given: Any) -> None:
    """Show for each of the 12 keys the positions in which TUNE can be played."""
    from accomp.cli import neck_text as text
    from accomp.cli.saying import say_json, say_table, tell_notes
    from accomp.job.documents import keys_document
    from accomp.job.positions import tune_neck

    request = _request(tune, keys=only, **given)
    asked, neck = request.options, tune_neck(request.tune, request)
    there = neck.tune
    rows = neck.neck.keys(there.key, neck.wish)
    if only:
        rows = [row for row in rows if row.key in request.keys]
    if svg is not None:
        boxes_of = [(str(row.key), text.home_boxes(row, neck)) for row in rows]
        _write_boxes(svg, boxes_of, asked, tune)
        if svg == STDOUT:
            return
    if as_json:
        say_json(keys_document(there, neck, rows, text.notices(neck)))
        return
    for row in rows:
        boxes = text.home_boxes(row, neck)
        _echo([f"{row.key}", *(_draw(boxes) if boxes else [f"   {row.problem}"]), ""])
    say_table(text.KEYS_HEAD, [line for row in rows for line in text.key_lines(row)])
    tell_notes(text.notices(neck))


def _on_the_neck(path: Path, *, key: str | None, **given: Any) -> tuple[Tune, TuneNeck, Options]:
    """The tune in the key asked for, the same on the player's neck, and the options.

    Raises `InputError`, also when several keys are asked for.
    """
    from accomp.errors import InputError, Problem
    from accomp.job.positions import tune_neck
    from accomp.tune import transpose_tune

    request = _request(path, keys=() if key is None else (key,), **given)
    if len(request.keys) > 1:
        message = "positions are shown in one key; `accomp keys` shows all of them."
        raise InputError(Problem(message, found=str(key), setting="keys"))
    neck = tune_neck(transpose_tune(request.tune, request.keys[0]), request)
    return neck.tune, neck, request.options


def _request(path: Path, **given: Any) -> Request:
    """The request of a tune file and options. Raises `InputError`."""
    from accomp.cli.usual import wanted
    from accomp.job.request import resolve
    from accomp.tune import read_tune

    return resolve(read_tune(path), wanted(**given))


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
    from accomp.cli.writing import write_text
    from accomp.write.diagram import box_rows_svg

    write_text(path, box_rows_svg(rows), replace=given.replace, inputs=_read_by(given, *inputs))


def _read_by(given: Options, *inputs: Path) -> list[Path]:
    """The files that the command reads, which it must not replace."""
    named = [
        Path(name) for name in (given.instrument, given.hand) if name and name.endswith(".toml")
    ]
    return [*inputs, *named, *filter(None, (given.repertoire, given.costs))]
